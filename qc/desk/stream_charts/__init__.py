"""The control chart of any stream of the shop: chosen, advised, judged, frozen, said in words."""
