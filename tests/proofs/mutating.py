"""Small wrong changes to a module, such as a person might make by a slip: each is one mutant.

What is changed: arithmetic and comparing signs, boundaries, and/or/not, numbers (n to n + 1, in
`Decimal("n")` too), True/False, conditions, min/max and their like, ways of rounding, what is returned,
what a set of named constants holds (`Stage.DRYING, Stage.FRAMING` without one of the two).
What is not: annotations, decorators, texts, what is there for type checking only, and `strict=True` of a zip,
a check that only fails in code that is wrong already.
"""

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
}
COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
NAMES = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "ceil": "floor",
    "floor": "ceil",
    "ROUND_HALF_UP": "ROUND_DOWN",
    "ROUND_HALF_EVEN": "ROUND_HALF_UP",
    "ROUND_DOWN": "ROUND_UP",
    "ROUND_UP": "ROUND_DOWN",
    "ROUND_FLOOR": "ROUND_CEILING",
    "ROUND_CEILING": "ROUND_FLOOR",
}


@dataclass(frozen=True)
class Mutant:
    """One change: where it is, what was there and what is instead. `number` counts within the file."""

    module: str
    path: Path
    number: int
    line: int
    function: str
    before: str
    after: str
    source: str

    @property
    def key(self) -> str:
        """What names it in the list of equivalent mutants: no line number, as these move."""
        where = f"{self.module}.{self.function}" if self.function else self.module
        return f"{where} | {self.source} | {self.before} → {self.after}"


@dataclass(frozen=True)
class _Change:
    node: ast.AST
    new: ast.AST
    function: str
    put: Callable[[], None]


def mutants_of(module: str, path: Path) -> list[Mutant]:
    """All mutants of one file, in the order of its text."""
    text = path.read_text()
    lines = text.splitlines()
    return [
        Mutant(
            module=module,
            path=path,
            number=number,
            line=change.node.lineno,
            function=change.function,
            before=ast.unparse(change.node),
            after=ast.unparse(change.new),
            source=lines[change.node.lineno - 1].strip(),
        )
        for number, change in enumerate(_changes(ast.parse(text)))
    ]


def mutated(path: Path, number: int) -> ast.Module:
    """The file's syntax tree with the change of this number."""
    tree = ast.parse(path.read_text())
    list(_changes(tree))[number].put()
    return ast.fix_missing_locations(tree)


def _changes(node: ast.AST, function: str = "") -> Iterator[_Change]:
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        function = f"{function}.{node.name}".lstrip(".")
    for field, value in ast.iter_fields(node):
        if field in {"annotation", "returns", "decorator_list", "type_params"}:
            continue
        if isinstance(value, ast.AST):
            yield from _of_child(node, field, None, value, function)
        elif isinstance(value, list):
            for index, child in enumerate(value):
                if isinstance(child, ast.AST):
                    yield from _of_child(node, field, index, child, function)


def _of_child(
    parent: ast.AST, field: str, index: int | None, child: ast.AST, function: str
) -> Iterator[_Change]:
    def putting(new: ast.AST) -> Callable[[], None]:
        def put() -> None:
            ast.copy_location(new, child)
            if index is None:
                setattr(parent, field, new)
            else:
                getattr(parent, field)[index] = new

        return put

    match child:
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            return
        case ast.keyword(arg="strict", value=ast.Constant(value=True)):
            return
    news = list(_instead(child))
    if field == "test" and isinstance(child, ast.Name | ast.Attribute | ast.Call | ast.NamedExpr):
        news.append(ast.UnaryOp(op=ast.Not(), operand=child))
    for new in news:
        yield _Change(child, new, function, putting(new))
    yield from _changes(child, function)


def _with(node: ast.AST, **fields: object) -> ast.AST:
    new = copy.copy(node)
    for name, value in fields.items():
        setattr(new, name, value)
    return new


def _is_constant(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and node.attr.isupper()


def _instead(node: ast.AST) -> Iterator[ast.AST]:  # noqa: C901, PLR0912 - a table
    match node:
        case ast.BinOp(op=op) | ast.AugAssign(op=op) if type(op) in OPERATORS:
            yield _with(node, op=OPERATORS[type(op)]())
        case ast.Compare(ops=ops):
            for index, op in enumerate(ops):
                for other in COMPARISONS[type(op)]:
                    yield _with(node, ops=[*ops[:index], other(), *ops[index + 1 :]])
        case ast.BoolOp(op=op):
            yield _with(node, op=ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Constant(value=bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            yield ast.Constant(value + 1)
        case ast.Call(func=ast.Name(id="Decimal"), args=[ast.Constant(value=str() as text)]):
            yield _with(node, args=[ast.Constant(str(Decimal(text) + 1))])
        case ast.Name(id=name) if name in NAMES:
            yield _with(node, id=NAMES[name])
        case ast.Attribute(attr=name) if name in NAMES:
            yield _with(node, attr=NAMES[name])
        case ast.Return(value=ast.Constant(value=bool() | None)):
            pass  # a flipped True or False is a mutant already
        case ast.Tuple(elts=elts) | ast.Set(elts=elts) if all(map(_is_constant, elts)):
            for index in range(len(elts)):
                yield _with(node, elts=elts[:index] + elts[index + 1 :])
        case ast.Return(value=ast.expr()):
            yield ast.Return(ast.Constant(None))
