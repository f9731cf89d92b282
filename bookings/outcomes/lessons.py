"""Statistics of past sittings: how often prints had to be taken again, and why. Pure.

They show which limb, age or place needs more time; people of the studio do not appear in them. Ages are days since birth,
as for the earliest sitting; the age bands are common practice, no source.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

FEW = 5  # fewer prints are too few for a statement

# Age bands: below so many days, and the name.
BANDS: tuple[tuple[int, str], ...] = (
    (12 * 7, "Under 12 weeks"),
    (17 * 7, "12 to 16 weeks"),
    (183, "17 weeks to 6 months"),
    (365, "6 to 12 months"),
)

OLDER = "A year and older"


@dataclass(frozen=True, slots=True)
class Print:
    """One print of a finished sitting."""

    age_days: int
    limb: str  # "left hand"
    place: str  # "at the family's home"
    tries: int  # how often it was taken again at that sitting
    put_off: bool  # "not today"
    lost: bool  # taken, and lost before it was poured and whole

    @property
    def repeated(self) -> bool:
        """Whether the first try did not succeed."""
        return self.tries > 0 or self.put_off or self.lost


@dataclass(frozen=True, slots=True)
class Lesson:
    """Repeat count of a group of prints."""

    about: str
    prints: int
    repeated: int

    @property
    def is_few(self) -> bool:
        return self.prints < FEW

    @property
    def words(self) -> str:
        """Describe the count: "4 of 9 repeated", with a note if there are too few."""
        text = f"{self.repeated or 'none'} of {self.prints} repeated"
        if not self.is_few:
            return text
        noun = "print" if self.prints == 1 else "prints"
        return f"{text}; only {self.prints} {noun} so far, too few to learn from"


@dataclass(frozen=True, slots=True)
class RepeatEvent:
    """An event after which something has to be done again."""

    job: int
    what: str  # the event's kind
    piece: int | None = None
    marks: tuple[str, ...] = ()  # what was wrong with it: "fingers not flat", "bubble"
    why: str = ""  # as it was typed


@dataclass(frozen=True, slots=True)
class Reason:
    words: str
    count: int


def band(age_days: int) -> str:
    """Name the band of an age in days: "12 to 16 weeks"."""
    return next((words for below, words in BANDS if age_days < below), OLDER)


def by_age(prints: Iterable[Print]) -> list[Lesson]:
    """Group prints by age band, the youngest first; empty bands are left out."""
    order = [words for _, words in BANDS] + [OLDER]
    return _grouped(prints, lambda each: band(each.age_days), order)


def by_limb(prints: Iterable[Print], limbs: Sequence[str]) -> list[Lesson]:
    """Group prints by limb, in the order of `limbs`."""
    return _grouped(prints, lambda each: each.limb, limbs)


def by_place(prints: Iterable[Print], places: Sequence[str]) -> list[Lesson]:
    """Group prints by place, in the order of `places`."""
    return _grouped(prints, lambda each: each.place, places)


def overall(prints: Sequence[Print]) -> Lesson:
    return Lesson("All prints", len(prints), sum(each.repeated for each in prints))


def repeat_reasons(events: Iterable[RepeatEvent]) -> list[Reason]:
    """Count reasons for repeating or putting off a print: each once per limb, the most frequent first."""
    return _counted(events, "log_print", lambda each: (*each.marks, *each.why.split("; ")))


def lost_print_reasons(events: Iterable[RepeatEvent]) -> list[Reason]:
    """Count reasons for losing a print."""
    return _counted(events, "lose_print", lambda each: [each.why])


def spoiled_cast_reasons(events: Iterable[RepeatEvent]) -> list[Reason]:
    """Count the faults of spoiled casts."""
    return _counted(events, "spoil_piece", lambda each: each.marks)


def cancelled_sitting_reasons(events: Iterable[RepeatEvent]) -> list[Reason]:
    """Count reasons for cancelling a sitting."""
    return _counted(events, "cancel_sitting", lambda each: [each.why])


def _grouped(
    prints: Iterable[Print], key: Callable[[Print], str], order: Sequence[str]
) -> list[Lesson]:
    ordered = sorted(prints, key=lambda each: order.index(key(each)))
    lessons = []
    for about, found in groupby(ordered, key):
        group = list(found)
        lessons.append(Lesson(about, len(group), sum(each.repeated for each in group)))
    return lessons


def _counted(
    events: Iterable[RepeatEvent], what: str, reasons_in: Callable[[RepeatEvent], Iterable[str]]
) -> list[Reason]:
    """Count equal reasons, ignoring case and the full stop; shown in their first spelling."""
    spelling: dict[str, str] = {}
    once: set[tuple[int, int | None, str]] = set()
    for each in events:
        if each.what != what:
            continue
        for reason in reasons_in(each):
            if words := " ".join(reason.split()).rstrip(".").strip():
                spelling.setdefault(words.casefold(), words)
                once.add((each.job, each.piece, words.casefold()))
    counts = Counter(words for _, _, words in once)
    return sorted(
        (Reason(spelling[words], count) for words, count in counts.items()),
        key=lambda reason: (-reason.count, reason.words.casefold()),
    )
