"""The size and shape of the code: circles, imports inside functions, long modules, functions and lines."""

import ast
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("studio", "bookings", "production", "orders", "demo_data")
# Loading one of these takes a noticeable time, so what needs it imports it when it is needed.
SLOW_LIBRARIES = {"weasyprint", "ortools", "fontTools"}
LINES_BEFORE = 42_729  # when the house began to shrink
SHRINK_BY = 4_000


@dataclass(frozen=True)
class Module:
    """One product file: its dotted name, path and syntax tree."""

    name: str
    path: Path

    @cached_property
    def text(self) -> str:
        return self.path.read_text()

    @cached_property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)

    @property
    def lines(self) -> int:
        return len(self.text.splitlines())

    @property
    def room(self) -> str:
        return str(self.path.relative_to(ROOT).parent)


def modules() -> list[Module]:
    """Every Python file of the product but its migrations."""
    return [
        Module(
            ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"), path
        )
        for package in PACKAGES
        for path in sorted((ROOT / package).rglob("*.py"))
        if "migrations" not in path.parts
    ]


def functions(module: Module) -> Iterator[tuple[int, str]]:
    """Lines and `file:line name` of each function, from its `def` to its end."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            where = f"{module.path.relative_to(ROOT)}:{node.lineno} {node.name}"
            yield (node.end_lineno or node.lineno) - node.lineno + 1, where


def _imports(body: ast.AST, inside: str = "") -> Iterator[tuple[ast.Import | ast.ImportFrom, str]]:
    """Each import and the function it is in (empty: none); those for type checking are left out."""
    for node in ast.iter_child_nodes(body):
        if isinstance(node, ast.Import | ast.ImportFrom):
            yield node, inside
        elif isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for other in node.orelse:
                yield from _imports(other, inside)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield from _imports(node, getattr(node, "name", "lambda"))
        else:
            yield from _imports(node, inside)


def _targets(node: ast.Import | ast.ImportFrom) -> list[str]:
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    return [f"{node.module}.{alias.name}" for alias in node.names]


def ties(found: list[Module]) -> dict[str, set[str]]:
    """The product's modules that each of them imports, also inside functions."""
    names = {module.name for module in found}

    def known(target: str) -> str:
        return target if target in names else target.rpartition(".")[0]

    return {
        module.name: {
            known(target) for node, _ in _imports(module.tree) for target in _targets(node)
        }
        & names - {module.name}
        for module in found
    }


def circles(graph: dict[str, set[str]]) -> list[list[str]]:
    """The sets of modules in which each reaches every other by imports, the largest first."""

    def reached(start: str) -> set[str]:
        seen: set[str] = set()
        waiting = [start]
        while waiting:
            new = graph[waiting.pop()] - seen
            seen |= new
            waiting.extend(new)
        return seen

    reach = {name: reached(name) for name in graph}
    tied = {
        tuple(sorted(other for other in reach[name] if name in reach[other]))
        for name in graph
        if name in reach[name]
    }
    return sorted(map(list, tied), key=len, reverse=True)


def late_imports(found: list[Module]) -> list[str]:
    """Imports inside functions, but those of `ready` and of slow libraries."""
    return [
        f"{module.path.relative_to(ROOT)}:{node.lineno} {', '.join(_targets(node))}"
        for module in found
        for node, inside in _imports(module.tree)
        if inside
        and not (inside == "ready" and module.path.name == "apps.py")
        and any(target.split(".")[0] not in SLOW_LIBRARIES for target in _targets(node))
    ]


def template_lines() -> list[tuple[int, str]]:
    """Characters and `file:line` of each line of each template."""
    return [
        (len(line), f"{path.relative_to(ROOT)}:{number}")
        for path in sorted((ROOT / "templates").rglob("*"))
        if path.is_file()
        for number, line in enumerate(path.read_text().splitlines(), 1)
    ]


def mechanisms() -> dict[str, int] | None:
    """Lines of text under each heading of the guide's chapter "Mechanisms"; None without the chapter."""
    guide = (ROOT / "DEVELOPERS.md").read_text()
    chapter = re.search(r"^## Mechanisms.*?$(.*?)(?=^## |\Z)", guide, re.DOTALL | re.MULTILINE)
    if not chapter:
        return None
    parts = re.split(r"^### (.*)$", chapter[1], flags=re.MULTILINE)[1:]
    return {
        heading: len([line for line in text.splitlines() if line.strip()])
        for heading, text in zip(parts[::2], parts[1::2], strict=True)
    }


def _over(most: int, sizes: list[tuple[int, str]]) -> list[str]:
    return [f"{size:5}  {where}" for size, where in sorted(sizes, reverse=True) if size > most]


def no_circles() -> list[str]:
    graph = ties(modules())
    return [
        "\n    ".join(
            [f"circle of {len(circle)}:"]
            + [f"{name} → {', '.join(sorted(graph[name] & {*circle}))}" for name in circle]
        )
        for circle in circles(graph)
    ]


def no_late_imports() -> list[str]:
    return late_imports(modules())


def short_modules() -> list[str]:
    return _over(400, [(module.lines, module.name) for module in modules()])


def short_functions() -> list[str]:
    return _over(40, [each for module in modules() for each in functions(module)])


def short_template_lines() -> list[str]:
    return _over(120, template_lines())


def small_rooms() -> list[str]:
    """Rooms of more than 12 files, beside `__init__.py`; the root of an app is no room."""
    files = Counter(
        module.room
        for module in modules()
        if module.path.name != "__init__.py" and module.room not in PACKAGES
    )
    return _over(12, [(count, room) for room, count in files.items()])


def few_mechanisms() -> list[str]:
    chapter = mechanisms()
    if chapter is None:
        return ['DEVELOPERS.md has no chapter "Mechanisms"']
    long = _over(3, [(lines, heading) for heading, lines in chapter.items()])
    return long + ([f"{len(chapter)} headings"] if len(chapter) > 15 else [])


def fewer_lines() -> list[str]:
    now = sum(module.lines for module in modules())
    most = LINES_BEFORE - SHRINK_BY
    return [f"{now:,} lines, to be at most {most:,}"] if now > most else []


# What must hold, each with the function that returns what breaks it.
GOALS: dict[str, Callable[[], list[str]]] = {
    "no circle of imports": no_circles,
    "no import inside a function": no_late_imports,
    "no module over 400 lines": short_modules,
    "no function over 40 lines": short_functions,
    "no template line over 120 characters": short_template_lines,
    "no room over 12 files": small_rooms,
    "at most 15 mechanisms of 3 lines": few_mechanisms,
    f"{SHRINK_BY:,} Python lines fewer": fewer_lines,
}


def _print_figures() -> None:
    found = modules()
    sizes = sorted((module.lines, module.name) for module in found)
    long = sorted(each for module in found for each in functions(module))
    tied = circles(ties(found))
    lines = sum(size for size, _ in sizes)
    rooms = Counter(module.room for module in found)
    chapter = mechanisms()
    for figure, value in {
        "Python lines without migrations": f"{lines:,} ({lines - LINES_BEFORE:+,})",
        "modules, folders": f"{len(found)}, {len(rooms)}",
        "module: median, longest": f"{median(size for size, _ in sizes):.0f}, {sizes[-1]}",
        "function: median, longest": f"{median(size for size, _ in long):.0f}, {long[-1]}",
        "circles, files in them": f"{len(tied)}, {sum(map(len, tied))}",
        "imports inside functions": len(late_imports(found)),
        "longest template line": max(template_lines()),
        "fullest folders": ", ".join(f"{room} {count}" for room, count in rooms.most_common(5)),
        "mechanisms in the guide": "no chapter" if chapter is None else len(chapter),
    }.items():
        print(f"{figure:32}  {value}")


def prove(arguments: list[str]) -> list[str]:
    """Print the figures and, of each goal missed, what breaks it: 20 lines, all with `--all`."""
    most = None if "--all" in arguments else 20
    _print_figures()
    missed = []
    for goal, look in GOALS.items():
        if broken := look():
            missed.append(f"{goal}: {len(broken)}")
            print(f"\n{goal}", *broken[:most], sep="\n  ")
            if most and len(broken) > most:
                print(f"  … and {len(broken) - most} more (--all)")
    print()
    return missed
