"""Compare every page, form and paper of the demo before and after a change of the code.

    python -m tests.proofs.walk make    HOME               once, with the old code
    python -m tests.proofs.walk record  HOME OUT           with the old code, then with the new code
    python -m tests.proofs.walk compare OLD NEW [--ignore-file FILE]

`make` loads the demo into HOME: demo.sqlite3, media/, people.json (who logs in) and link.txt (the
families' links, of which the database keeps only a digest). It must be run by the old code.

`record` works on a copy of that database and of its files, migrates the copy to the code it runs
in, and stops the clock at one moment. It opens the site as the owner, a helper, the network office,
a family by its link, and nobody; follows every link and every form that reads, breadth first; then
opens each address pattern that no link led to, with keys of rows that exist. It also posts every
form that the owner or a family met: once with everything emptied that a person can fill in ("the
bad form comes back"), and once with what it shows (the button pressed at once). Each request ends
with a rollback, so none sees what another did. OUT gets one file, walk.json.

Limits: of addresses that differ only in a query or a week, 12 are opened; helper, office and nobody
open at most 40 of one pattern; of the forms of one pattern at most 10 are posted in each way. Files
are never sent. Work for the worker is asked for but not done, as each request is rolled back.

`--also OLD` makes `record` open the addresses of an earlier recording too, so that a link which is
gone is not taken for a page which is gone.

What is recorded: the status, the address it leads to, the content type, the visible text, links,
forms (address, method, fields, options, buttons); of a PDF its text, its pages and how they look;
and of papers and photographs that were stored, the sum of their bytes.

`compare` prints what differs, grouped by the pattern of the address, and exits with 1 if anything
differs that neither MOVED nor the file of ignored differences names. Each line of that file is a
regular expression (blank lines and lines that begin with # are skipped); a line of a difference that
one of them finds is no difference. The line is printed as "PATTERN | KIND | who METHOD address |
text", so an expression can name any of them.

To record the old code, check it out elsewhere and copy this folder (tests/proofs) into it; the
script imports nothing else of the project, and knows of it only the labels of its apps.
"""

import argparse
import sys
from pathlib import Path

# Addresses that moved on purpose: a regular expression of the old one, and what replaces it.
MOVED: dict[str, str] = {}


def main(arguments: list[str]) -> int:
    """Run one of the three commands and return the exit code: 1 for differences, else 0."""
    parser = argparse.ArgumentParser(prog="python -m tests.proofs.walk")
    commands = parser.add_subparsers(dest="command", required=True)
    make = commands.add_parser("make", help="load the demo, by the old code")
    make.add_argument("home", type=Path)
    record = commands.add_parser("record", help="walk through a copy of the demo")
    record.add_argument("home", type=Path)
    record.add_argument("out", type=Path)
    record.add_argument("--also", type=Path, help="an earlier recording whose addresses to open")
    record.add_argument("--only", default="", help="open only addresses that begin so")
    record.add_argument("--who", default="", help="only these people, into a file of their own")
    compare = commands.add_parser("compare", help="list what differs between two recordings")
    compare.add_argument("old", type=Path)
    compare.add_argument("new", type=Path)
    compare.add_argument("--ignore-file", type=Path)
    compare.add_argument("--lines", type=int, default=12, help="of each difference of text")
    compare.add_argument("--each", type=int, default=3, help="addresses shown of each group")
    asked = parser.parse_args(arguments)

    if asked.command == "compare":
        from tests.proofs import walk_compare  # noqa: PLC0415 - needs no Django

        return walk_compare.compare(asked, MOVED)
    from tests.proofs import walk_record  # noqa: PLC0415 - sets the clock before Django loads

    if asked.command == "make":
        walk_record.make(asked.home)
    else:
        given = {name: getattr(asked, name) for name in ("also", "only", "who")}
        walk_record.record(asked.home, asked.out, **given, moved=MOVED)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
