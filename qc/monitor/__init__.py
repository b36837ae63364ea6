"""From records to flags: usual rates, streams, budget, detection, attribution, containment."""
