"""The records of the shop, as tables of fields: what a file may hold and what a store keeps.

Intake parses by these fields, the store makes its tables from them, the documents list them.
Names carry the stored unit (degC, kPa, mm, s); an instant is a whole number of microseconds
since 1970-01-01 UTC.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from qc.domain.kinds import ZONES
from qc.units import UNITS, Unit, units_of

STAGES = ("after_peel", "final", "after_24h", "wash", "customer")
DISPOSITIONS = ("pass", "press_again", "scrap", "hold", "concession")
PRESSURE_CLASSES = ("light", "medium", "medium_firm", "firm", "heavy")
PEELS = ("hot", "warm", "cool", "cold")
SURFACES = ("smooth", "brushed", "textured", "ribbed")
PLATENS = ("upper", "lower")
SURVEY_STATES = ("routine", "as_found", "as_left")
PULL_PLACES = ("far_left", "far", "far_right", "left", "centre", "right", "near_left", "near",
               "near_right")
PULL_METHODS = ("paper", "film")
CHECK_QUANTITIES = ("dwell_s", "pressure_kpa", "pressure_dial")

SENSORS = ("type_k_standard", "type_k_special", "type_k_class_1", "type_k_class_2",
           "type_t_standard", "pt100_class_a", "pt100_class_b")
"""Classes of temperature sensor with a published tolerance, see `qc.presses.sensors`."""

TEXT_KINDS = frozenset({"text", "code", "choice", "yes_no"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One column.

    ``kind`` is 'text', 'code' (an identifier), 'choice', 'yes_no', 'instant', 'whole' (a whole
    number), 'number', or a quantity of `qc.units`. ``low`` and ``high`` are inclusive, in the
    stored unit. ``listed`` names the record kind whose list the code must be on.
    """

    name: str
    kind: str = "text"
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    default: str | int | None = None
    listed: str | None = None

    @property
    def units(self) -> tuple[Unit, ...]:
        """The units a file may give this field in; empty when it has none."""
        return units_of(self.kind)

    @property
    def base(self) -> str:
        """The name without its unit suffix."""
        return self.name.rsplit("_", 1)[0] if self.units else self.name

    @property
    def is_text(self) -> bool:
        return self.kind in TEXT_KINDS


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordKind:
    """One kind of record: its fields and what makes two rows the same record.

    ``versioned``: a changed row is a new version; otherwise it is a conflict.
    """

    name: str
    fields: tuple[Field, ...]
    identity: tuple[str, ...]
    versioned: bool = False
    time_field: str | None = None
    by_name: dict[str, Field] = field(init=False, repr=False, compare=False, hash=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {f.name: f for f in self.fields})


def _temperature(name: str, **more: object) -> Field:
    return Field(name=f"{name}_c", kind="temperature", low=0, high=400, **more)  # type: ignore[arg-type]


def _gauge(name: str) -> Field:
    return Field(name=f"{name}_kpa", kind="gauge_pressure", low=0, high=2000)


def _dial(name: str) -> Field:
    return Field(name=f"{name}_dial", kind="number", low=1, high=9)


def _seconds(name: str, *, high: float = 600) -> Field:
    return Field(name=f"{name}_s", kind="duration", low=0, high=high)


INSPECTIONS = RecordKind(
    name="inspections",
    identity=("piece_id", "attempt", "location", "stage"),
    time_field="inspected_at",
    fields=(
        Field(name="piece_id", kind="code", required=True),
        Field(name="attempt", kind="whole", low=1, high=99, default=1),
        Field(name="inspected_at", kind="instant", required=True),
        Field(name="pressed_at", kind="instant"),
        Field(name="stage", kind="choice", choices=STAGES, default="final"),
        Field(name="press", kind="code", required=True, listed="presses"),
        Field(name="station"),
        Field(name="fabric", kind="code", required=True, listed="fabrics"),
        Field(name="transfer", kind="code", required=True, listed="transfers"),
        Field(name="location"),
        Field(name="size"),
        Field(name="job"),
        Field(name="garment_lot"),
        Field(name="transfer_lot"),
        Field(name="operator"),
        Field(name="inspector"),
        _temperature("temperature"),
        _temperature("temperature_lower"),
        _seconds("dwell"),
        _seconds("prepress"),
        _seconds("second_press"),
        _gauge("pressure"),
        _dial("pressure"),
        Field(name="pressure_class", kind="choice", choices=PRESSURE_CLASSES),
        _seconds("peel_wait", high=86_400),
        Field(name="cover"),
        Field(name="dx_mm", kind="length", low=-1000, high=1000),
        Field(name="dy_mm", kind="length", low=-1000, high=1000),
        Field(name="rotation_deg", kind="angle", low=-180, high=180),
        Field(name="disposition", kind="choice", choices=DISPOSITIONS),
        Field(name="pieces", kind="whole", low=1, high=1_000_000, default=1),
        Field(name="defective", kind="whole", low=0, high=1_000_000),
        Field(name="note"),
    ),
)
"""One look at a piece, or at a counted block of pieces. Its findings (`FINDINGS`) are kept beside
it; in a file they are the column ``defects`` or one column for each kind."""

FINDINGS = RecordKind(
    name="findings",
    identity=(),
    fields=(
        Field(name="kind", kind="code", required=True),
        Field(name="zone", kind="choice", choices=ZONES),
        Field(name="extent_mm", kind="length", low=0, high=2000),
        Field(name="n", kind="whole", low=1, high=1_000_000, default=1),
    ),
)

PLATEN_READINGS = RecordKind(
    name="platen_readings",
    identity=("survey_id", "platen", "row", "col"),
    time_field="measured_at",
    fields=(
        Field(name="survey_id", kind="code", required=True),
        Field(name="measured_at", kind="instant", required=True),
        Field(name="press", kind="code", required=True, listed="presses"),
        Field(name="platen", kind="choice", choices=PLATENS, required=True),
        _temperature("setpoint", required=True),
        Field(name="row", kind="whole", low=1, high=100, required=True),
        Field(name="col", kind="whole", low=1, high=100, required=True),
        _temperature("reading", required=True),
        Field(name="instrument", kind="code"),
        Field(name="state", kind="choice", choices=SURVEY_STATES, default="routine"),
    ),
)

MACHINE_CHECKS = RecordKind(
    name="machine_checks",
    identity=("measured_at", "press", "quantity", "set_value", "state"),
    time_field="measured_at",
    fields=(
        Field(name="measured_at", kind="instant", required=True),
        Field(name="press", kind="code", required=True, listed="presses"),
        Field(name="quantity", kind="choice", choices=CHECK_QUANTITIES, required=True),
        Field(name="set_value", kind="number", required=True),
        Field(name="measured_value", kind="number", required=True),
        Field(name="instrument", kind="code"),
        Field(name="state", kind="choice", choices=SURVEY_STATES, default="routine"),
    ),
)
"""Values in the stored unit of their quantity; a file may write pressure_psi or pressure_bar."""

PULL_CHECKS = RecordKind(
    name="pull_checks",
    identity=("measured_at", "press", "station", "place", "method", "state"),
    time_field="measured_at",
    fields=(
        Field(name="measured_at", kind="instant", required=True),
        Field(name="press", kind="code", required=True, listed="presses"),
        Field(name="station"),
        Field(name="place", kind="choice", choices=PULL_PLACES, required=True),
        Field(name="grip", kind="whole", low=0, high=3, required=True),
        Field(name="method", kind="choice", choices=PULL_METHODS, default="paper"),
        Field(name="state", kind="choice", choices=SURVEY_STATES, default="routine"),
    ),
)
"""How firmly a closed press holds a strip of paper at a place of the platen, or how dark pressure
film is there: 0 not at all, 1 lightly, 2 firmly, 3 it tears or is fully dark. Ranks, never a
pressure (the ranks are common practice, no source)."""

RECIPES = RecordKind(
    name="recipes",
    identity=("fabric", "transfer", "version"),
    fields=(
        Field(name="fabric", kind="code", required=True, listed="fabrics"),
        Field(name="transfer", kind="code", required=True, listed="transfers"),
        Field(name="version", kind="text", default="1"),
        Field(name="valid_from", kind="instant"),
        _temperature("temperature"), _temperature("temperature_low"),
        _temperature("temperature_high"),
        _seconds("dwell"), _seconds("dwell_low"), _seconds("dwell_high"),
        _gauge("pressure"), _gauge("pressure_low"), _gauge("pressure_high"),
        _dial("pressure"), _dial("pressure_low"), _dial("pressure_high"),
        Field(name="pressure_class", kind="choice", choices=PRESSURE_CLASSES),
        Field(name="peel", kind="choice", choices=PEELS),
        _seconds("peel_wait", high=86_400),
        Field(name="cover"),
        _seconds("second_press"),
    ),
)

PRESSES = RecordKind(
    name="presses",
    identity=("press",),
    versioned=True,
    fields=(
        Field(name="press", kind="code", required=True),
        Field(name="name"),
        Field(name="kind"),
        Field(name="heated_lower", kind="yes_no"),
        Field(name="platen_width_mm", kind="length", low=10, high=5000),
        Field(name="platen_height_mm", kind="length", low=10, high=5000),
        Field(name="temperature_tolerance_c", kind="temperature_difference", low=0, high=100),
        Field(name="uniformity_tolerance_c", kind="temperature_difference", low=0, high=100),
        Field(name="check_every_days", kind="number", low=0.1, high=3660),
    ),
)

FABRICS = RecordKind(
    name="fabrics",
    identity=("fabric",),
    versioned=True,
    fields=(
        Field(name="fabric", kind="code", required=True),
        Field(name="name"),
        Field(name="cotton_pct", kind="share", low=0, high=100),
        Field(name="polyester_pct", kind="share", low=0, high=100),
        Field(name="other_pct", kind="share", low=0, high=100),
        Field(name="surface", kind="choice", choices=SURFACES),
        Field(name="weight_gsm", kind="mass_per_area", low=10, high=5000),
        _temperature("heat_limit"),
    ),
)

TRANSFERS = RecordKind(
    name="transfers",
    identity=("transfer",),
    versioned=True,
    fields=(
        Field(name="transfer", kind="code", required=True),
        Field(name="name"),
        Field(name="kind"),
    ),
)

INSTRUMENTS = RecordKind(
    name="instruments",
    identity=("instrument",),
    versioned=True,
    fields=(
        Field(name="instrument", kind="code", required=True),
        Field(name="uncertainty_c", kind="temperature_difference", low=0, high=100),
        Field(name="k", kind="number", low=0.5, high=10),
        Field(name="calibrated_at", kind="instant"),
        Field(name="due_at", kind="instant"),
        Field(name="sensor", kind="choice", choices=SENSORS),
        Field(name="meter_c", kind="temperature_difference", low=0, high=100),
        Field(name="contact_c", kind="temperature_difference", low=0, high=100),
        Field(name="repeat_c", kind="temperature_difference", low=0, high=100),
    ),
)

JOBS = RecordKind(
    name="jobs",
    identity=("job",),
    versioned=True,
    fields=(
        Field(name="job", kind="code", required=True),
        Field(name="fabric", kind="code", listed="fabrics"),
        Field(name="transfer", kind="code", listed="transfers"),
        Field(name="location"),
        Field(name="ordered", kind="whole", low=0, high=10_000_000),
        Field(name="shipped_at", kind="instant"),
    ),
)

PLACEMENTS = RecordKind(
    name="placements",
    identity=("location",),
    versioned=True,
    fields=(
        Field(name="location", kind="code", required=True),
        Field(name="reference"),
        Field(name="part_measured"),
        Field(name="dx_tolerance_mm", kind="length", low=0, high=1000),
        Field(name="dy_tolerance_mm", kind="length", low=0, high=1000),
        Field(name="rotation_tolerance_deg", kind="angle", low=0, high=180),
        Field(name="print_width_mm", kind="length", low=1, high=5000),
        Field(name="print_height_mm", kind="length", low=1, high=5000),
        Field(name="platen_right_mm", kind="length", low=-2500, high=2500),
        Field(name="platen_near_mm", kind="length", low=-2500, high=2500),
    ),
)
"""``platen_right_mm`` and ``platen_near_mm``: where the print's centre lies from the platen's."""

RECORD_KINDS: dict[str, RecordKind] = {
    kind.name: kind
    for kind in (
        INSPECTIONS, PLATEN_READINGS, MACHINE_CHECKS, PULL_CHECKS, RECIPES, PRESSES, FABRICS,
        TRANSFERS, INSTRUMENTS, JOBS, PLACEMENTS,
    )
}
"""The kinds of file `qc load` reads."""

UNIT_SUFFIXES = frozenset(unit.suffix for unit in UNITS)
