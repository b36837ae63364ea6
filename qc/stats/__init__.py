"""Statistics: arrays in, frozen results out. numpy and scipy only; no store, clock or drawing."""
