"""What the history tells of the bench and the frame: see studio.event_words."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from production.casts.models import Cast
from production.schedule.models import PlanPin
from studio import units
from studio.event_words import Facts, Kind, register, register_move_reasons


@dataclass(frozen=True, slots=True)
class Poured(Facts):
    pieces: list[int]

    def words(self, names: Mapping[int, str]) -> str:
        return "; ".join(names[piece] for piece in self.pieces if piece in names)


@dataclass(frozen=True, slots=True)
class Placed(Facts):
    place: int

    def words(self, names: Mapping[int, str]) -> str:
        return f"place {self.place}"


@dataclass(frozen=True, slots=True)
class Weighed(Facts):
    before_why: ClassVar[str] = ", "
    mass_g: float

    def words(self, names: Mapping[int, str]) -> str:
        return f"{self.mass_g:g} g"


@dataclass(frozen=True, slots=True)
class Struck(Weighed):
    before_why: ClassVar[str] = ". "


@dataclass(frozen=True, slots=True)
class Spoiled(Facts):
    before_why: ClassVar[str] = ". "
    how: str

    def words(self, names: Mapping[int, str]) -> str:
        return str(Cast.Spoil(self.how).label)


@dataclass(frozen=True, slots=True)
class Ticked(Facts):
    step: str
    done: bool

    def words(self, names: Mapping[int, str]) -> str:
        return self.step if self.done else f"not {self.step} after all"


@dataclass(frozen=True, slots=True)
class FrameChosen(Facts):
    moulding: str
    width_mm: int | None
    height_mm: int | None
    matched: bool

    def words(self, names: Mapping[int, str]) -> str:
        size = f"{self.width_mm} × {self.height_mm} mm" if self.width_mm else "size worked out"
        grain = "grain runs round" if self.matched else ""
        return ", ".join(filter(None, [self.moulding, size, grain]))


@dataclass(frozen=True, slots=True)
class RailsCut(Facts):
    moulding: str
    rails_mm: list[int]

    def words(self, names: Mapping[int, str]) -> str:
        rails = " and ".join(str(each) for each in self.rails_mm)
        return f"{self.moulding}, rails of {rails} mm"


@dataclass(frozen=True, slots=True)
class Pinned(Facts):
    """A step of the plan that is kept on a day, or no longer is; its piece is the event's subject."""

    step: str
    on: str

    def words(self, names: Mapping[int, str]) -> str:
        return f"{PlanPin.Kind(self.step).label}: {units.day(date.fromisoformat(self.on))}"


@dataclass(frozen=True, slots=True)
class WayHome(Facts):
    courier: bool

    def words(self, names: Mapping[int, str]) -> str:
        return "goes home by courier" if self.courier else "is collected"


@dataclass(frozen=True, slots=True)
class Measured(Facts):
    length_mm: int
    width_mm: int
    depth_mm: int

    def words(self, names: Mapping[int, str]) -> str:
        return f"{self.length_mm} × {self.width_mm} × {self.depth_mm} mm"


register_move_reasons({code: str(label) for code, label in Cast.Spoil.choices})
register(
    choose_frame=Kind("Frame chosen", FrameChosen),
    clear_bench=Kind("Bench cleared"),
    confirm_cutting=Kind("Rails cut", RailsCut),
    demould=Kind("Demoulded"),
    measure_mould=Kind("Mould measured", Measured),
    pin_step=Kind("Kept on a day", Pinned),
    place_on_rack=Kind("Place on the rack changed", Placed),
    pour=Kind("Poured", Poured),
    release_dry=Kind("Released as dry"),
    send_by_courier=Kind("Way home", WayHome),
    spoil_piece=Kind("Cast given up", Spoiled),
    strike_weighing=Kind("Weighing struck out", Struck),
    tick_frame=Kind("Frame", Ticked),
    unpin_step=Kind("No longer kept on a day", Pinned),
    weigh=Kind("Weighed", Weighed),
)
