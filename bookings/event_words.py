"""Events of sittings, prints and photographs: see studio.event_words."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from bookings.sittings.models import ClayPrint, Sitting, quality_words
from studio.event_words import Facts, Kind, moment_of, register


@dataclass(frozen=True, slots=True)
class SittingSet(Facts):
    """Time and place for which a sitting is planned."""

    starts_at: str
    place: str
    young_why: str  # as it was typed

    def words(self, names: Mapping[int, str]) -> str:
        young = f"; young because: {self.young_why}" if self.young_why else ""
        return f"{moment_of(self.starts_at)}, {Sitting.Place(self.place).label}{young}"


@dataclass(frozen=True, slots=True)
class Arrived(Facts):
    who: str
    asked: list[str]  # the cautions that were discussed

    def words(self, names: Mapping[int, str]) -> str:
        return f"{self.who}; gone through: {', '.join(self.asked)}" if self.asked else self.who


@dataclass(frozen=True, slots=True)
class LoggedPrint(Facts):
    """Outcome of one print; the note is the event's `why`. Marks: None if not judged."""

    before_why: ClassVar[str] = ", "
    outcome: str
    tray: str
    flat: bool | None
    toes: bool | None
    depth: bool | None
    length_mm: int | None

    def words(self, names: Mapping[int, str]) -> str:
        quality = quality_words(
            {"flat": self.flat, "toes": self.toes, "depth": self.depth}, self.length_mm
        )
        tray = f"tray {self.tray}" if self.tray else ""
        outcome = str(ClayPrint.Outcome(self.outcome).label)
        return ", ".join(filter(None, [outcome, tray, quality]))

    @staticmethod
    def of(clay_print: ClayPrint) -> "LoggedPrint":
        return LoggedPrint(
            outcome=clay_print.outcome,
            tray=clay_print.tray,
            **clay_print.marks,
            length_mm=clay_print.length_mm,
        )


@dataclass(frozen=True, slots=True)
class Erased(Facts):
    photographs: int

    def words(self, names: Mapping[int, str]) -> str:
        return "1 photograph" if self.photographs == 1 else f"{self.photographs} photographs"


register(
    add_photo=Kind("Photograph kept"),
    arrive=Kind("The family is here", Arrived),
    book_again=Kind("Booked again", SittingSet),
    book_sitting=Kind("Sitting booked", SittingSet),
    cancel_sitting=Kind("Sitting cancelled"),
    erase_photos=Kind("Photographs erased", Erased),
    finish_sitting=Kind("Sitting finished"),
    log_print=Kind("Print logged", LoggedPrint),
    lose_print=Kind("Print lost"),
    move_sitting=Kind("Sitting moved", SittingSet),
    reopen_sitting=Kind("Sitting opened again"),
)
