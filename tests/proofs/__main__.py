"""List the proofs, or run the one that is named: see bin/prove."""

import ast
import sys
from importlib import import_module
from pathlib import Path

FOLDER = Path(__file__).parent


def proofs() -> dict[str, str]:
    """The docstring's first line of each proof, under its name; nothing is imported for it."""
    return {
        path.stem: (ast.get_docstring(ast.parse(path.read_text())) or "").partition("\n")[0]
        for path in sorted(FOLDER.glob("[a-z]*.py"))
        if "def prove(" in path.read_text()
    }


def main(name: str = "", *arguments: str) -> int:
    known = proofs()
    if name not in known:
        for each, line in known.items():
            print(f"{each:10}  {line}")
        return 2 if name else 0
    missed = import_module(f"tests.proofs.{name}").prove(list(arguments))
    for sentence in missed:
        print(f"Missed: {sentence}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
