"""The kinds of defect of the invented shops, with invented rates that lean the way the trade says.

Textured cotton fleece and thick film lift, polyester takes a press box, damp cotton bubbles:
common practice, no source; the numbers are invented.
"""

from __future__ import annotations

from demo_data.spec import Kind

EDGES = (0.16, 0.10, 0.15, 0.09, 0.02, 0.09, 0.15, 0.10, 0.14)
CORNERED = (0.18, 0.07, 0.18, 0.07, 0.0, 0.07, 0.18, 0.07, 0.18)
EVEN = (0.1, 0.1, 0.1, 0.1, 0.2, 0.1, 0.1, 0.1, 0.1)
MIDDLE = (0.04, 0.1, 0.04, 0.12, 0.4, 0.12, 0.04, 0.1, 0.04)

_HARD = {"cotton textured": 3.2, "ribbed": 1.5, "brushed": 1.3, "smooth": 0.7}

KINDS: tuple[Kind, ...] = (
    Kind(code="lifted_edge", rate=0.0085, zones=EDGES, extent_mm=(2, 12),
         effects={**_HARD, "foam": 1.9, "flock": 1.3, "glitter": 1.4, "sleeve": 1.2},
         dispositions={"press_again": 0.85, "hold": 0.08, "scrap": 0.07}),
    Kind(code="incomplete_cure", rate=0.0058, zones=EVEN,
         effects={"cotton textured": 2.0, "smooth": 0.8, "foam": 1.5, "powder": 1.2},
         dispositions={"press_again": 0.6, "hold": 0.2, "scrap": 0.2}),
    Kind(code="misplacement", rate=0.0064, extent_mm=(7, 14),
         effects={"sleeve": 1.6, "full_back": 0.8},
         dispositions={"scrap": 0.7, "concession": 0.3}),
    Kind(code="rotated", rate=0.0035, effects={"sleeve": 1.4},
         dispositions={"scrap": 0.6, "concession": 0.4}),
    Kind(code="press_mark", rate=0.0045, zones=CORNERED,
         effects={"polyester": 2.6, "cotton": 0.7},
         dispositions={"hold": 0.6, "concession": 0.25, "scrap": 0.15}),
    Kind(code="scorch", rate=0.0025, zones=EVEN, effects={"polyester": 1.8},
         dispositions={"scrap": 0.9, "hold": 0.1}),
    Kind(code="bubble", rate=0.0040, zones=MIDDLE, extent_mm=(2, 7),
         effects={"cotton": 1.5, "polyester": 0.6, "cut_film": 1.3},
         dispositions={"press_again": 0.5, "scrap": 0.5}),
    Kind(code="wrinkle", rate=0.0045, zones=MIDDLE, extent_mm=(10, 60),
         effects={"brushed": 1.3, "cut_film": 1.4},
         dispositions={"press_again": 0.4, "scrap": 0.4, "concession": 0.2}),
    Kind(code="contamination", rate=0.0050, zones=EVEN, extent_mm=(1, 4),
         effects={"brushed": 1.5, "cotton textured": 1.4},
         dispositions={"concession": 0.6, "hold": 0.2, "scrap": 0.2}),
    Kind(code="carrier_residue", rate=0.0030, zones=EDGES,
         effects={"powder": 1.8},
         dispositions={"press_again": 0.5, "concession": 0.5}),
    Kind(code="dye_migration", rate=0.006, look="after_24h",
         effects={"polyester": 3.0, "cotton": 0.05, "cotton textured": 0.05},
         dispositions={"hold": 0.5, "scrap": 0.5}),
    Kind(code="lifted_edge", rate=0.008, look="after_24h", zones=EDGES, extent_mm=(2, 9),
         effects={**_HARD, "foam": 1.9},
         dispositions={"press_again": 0.8, "hold": 0.2}),
    Kind(code="wash_crack", rate=0.03, look="wash", zones=MIDDLE, effects={"foam": 1.5},
         dispositions={"hold": 1.0}),
)
"""First-look kinds sum to about 5 % of pieces."""
