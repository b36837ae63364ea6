"""Presses, fabrics, transfers and places that the invented shops are put together from.

Settings lie inside the ranges common in the trade (common practice, no source); shares are
invented. A real shop follows its transfer supplier's sheet and the press maker's manual.
"""

from __future__ import annotations

from demo_data.spec import Fabric, Location, Press, Transfer

FABRICS: tuple[Fabric, ...] = (
    Fabric(code="FLEECE-C", name="Textured fleece, all cotton", cotton_pct=100, polyester_pct=0,
           surface="textured", weight_gsm=320, heat_limit_c=180, share=0.16, dwell_more_s=3),
    Fabric(code="FLEECE-B", name="Brushed fleece, half cotton", cotton_pct=50, polyester_pct=50,
           surface="brushed", weight_gsm=280, heat_limit_c=170, share=0.22, dwell_more_s=2),
    Fabric(code="JERSEY-C", name="Smooth jersey, all cotton", cotton_pct=100, polyester_pct=0,
           surface="smooth", weight_gsm=180, heat_limit_c=180, share=0.24),
    Fabric(code="JERSEY-B", name="Smooth jersey, half cotton", cotton_pct=50, polyester_pct=50,
           surface="smooth", weight_gsm=165, heat_limit_c=170, share=0.18),
    Fabric(code="SPORT-P", name="Smooth sports knit, all polyester", cotton_pct=0,
           polyester_pct=100, surface="smooth", weight_gsm=140, heat_limit_c=150, share=0.12),
    Fabric(code="RIB-C", name="Rib, cotton with elastane", cotton_pct=95, polyester_pct=0,
           surface="ribbed", weight_gsm=220, heat_limit_c=170, share=0.08),
)

TRANSFERS: tuple[Transfer, ...] = (
    Transfer(code="CUT", name="Cut film, matt", kind="cut_film", share=0.34, temperature_c=150,
             dwell_s=15, pressure_kpa=280, pressure_dial=5, peel="warm", peel_wait_s=20,
             locations=("left_chest", "full_front", "full_back", "sleeve"), second_press_s=3),
    Transfer(code="FOAM", name="Raised foam film", kind="foam", share=0.14, temperature_c=155,
             dwell_s=15, pressure_kpa=210, pressure_dial=4, peel="warm", peel_wait_s=30,
             locations=("left_chest", "full_front")),
    Transfer(code="FLOCK", name="Flock film", kind="flock", share=0.14, temperature_c=160,
             dwell_s=18, pressure_kpa=320, pressure_dial=6, peel="cold", peel_wait_s=90,
             locations=("left_chest", "full_front")),
    Transfer(code="POWDER", name="Full-colour print with hot-melt powder", kind="powder",
             share=0.28, temperature_c=155, dwell_s=12, pressure_kpa=320, pressure_dial=6,
             peel="cold", peel_wait_s=60, cover="matt sheet", second_press_s=5,
             locations=("left_chest", "full_front", "full_back")),
    Transfer(code="GLITTER", name="Glitter film", kind="glitter", share=0.10, temperature_c=160,
             dwell_s=15, pressure_kpa=300, pressure_dial=5, peel="warm", peel_wait_s=25,
             locations=("full_front",), second_press_s=4),
)

LOCATIONS: tuple[Location, ...] = (
    Location(code="left_chest", reference="shoulder-collar seam, centre line",
             part_measured="top edge", dx_tolerance_mm=6, dy_tolerance_mm=6,
             rotation_tolerance_deg=2),
    Location(code="full_front", reference="bottom of collar, centre line",
             part_measured="top edge", dx_tolerance_mm=6, dy_tolerance_mm=10,
             rotation_tolerance_deg=1.5),
    Location(code="full_back", reference="back neck seam, centre line", part_measured="top edge",
             dx_tolerance_mm=6, dy_tolerance_mm=10, rotation_tolerance_deg=1.5),
    Location(code="sleeve", reference="sleeve hem, sleeve fold", part_measured="bottom edge",
             dx_tolerance_mm=5, dy_tolerance_mm=6, rotation_tolerance_deg=2),
)

PRESSES: tuple[Press, ...] = (
    Press(code="P1", name="By the window", stations=("A", "B"), prefers=("JERSEY-C", "JERSEY-B")),
    Press(code="P2", name="Long table", heated_lower=True, prefers=("FLEECE-C", "FLEECE-B")),
    Press(code="P3", name="Corner press", prefers=("JERSEY-C", "RIB-C")),
    Press(code="P4", name="Double", stations=("A", "B"), kind="shuttle", prefers=("SPORT-P",)),
    Press(code="P5", name="By the stairs", heated_lower=True, prefers=("FLEECE-C",)),
    Press(code="P6", name="Old reliable", kind="clamshell", pressure="dial",
          prefers=("FLEECE-B", "JERSEY-B")),
    Press(code="P7", name="Near the door", kind="clamshell", pressure="dial"),
)

PEOPLE = ("Arlo", "Bea", "Cato", "Dena", "Ezra", "Fia", "Gus", "Hedy", "Ivo", "Juno", "Kai",
          "Lene", "Milo", "Nora", "Otto", "Pia", "Quin", "Runa", "Silas", "Tova")
