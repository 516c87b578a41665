"""Text in CSV cells that a spreadsheet program must not run as a formula."""

from typing import Final

#: A cell that begins with one of these is taken for a formula; an apostrophe hides one.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "'")


def guarded(cell: str) -> str:
    """The cell with an apostrophe before anything a spreadsheet would run; numbers stay."""
    if not cell.startswith(_FORMULA_STARTS):
        return cell
    is_number = cell.removeprefix("-").replace(".", "", 1).isdecimal()
    return cell if is_number else f"'{cell}"


def unguarded(cell: str) -> str:
    """What ``guarded`` was given, as a spreadsheet program saves it again."""
    cell = cell.replace("\r\n", "\n").strip(" \n")
    return cell[1:].strip() if cell.startswith("'") else cell.strip()
