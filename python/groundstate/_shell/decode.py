"""Tables as other programs write them: other encodings, decimal commas. Only where the user says so."""

from __future__ import annotations

import csv
import io
import re

from groundstate._core import TableError

#: Columns that hold numbers; a comma in any other column is text and stays.
NUMBERS = frozenset(
    "absorbance signal nominal accept_low accept_high added spike_volume_ml spike_conc mass_g volume_ml "
    "final_volume_ml dilution percent_solids".split()
)
#: A comma between digits.
COMMA = re.compile(r"(?<=\d),(?=\d)")


def decoded(content: bytes, encoding: str | None, decimal_comma: bool) -> bytes:
    """The table in UTF-8 with decimal points."""
    if encoding is not None:
        try:
            content = content.decode(encoding).encode()
        except LookupError:
            raise TableError(f"there is no encoding {encoding!r}; latin-1, cp1252, utf-16 are some") from None
        except UnicodeDecodeError as error:
            raise TableError(f"the file is not in {encoding}: {error.reason} at byte {error.start}") from None
    return _with_points(content) if decimal_comma else content


def _with_points(content: bytes) -> bytes:
    text = content.decode("utf-8-sig")
    head = next((line for line in text.splitlines() if line.strip()), "")
    separator = "\t" if head.count("\t") > head.count(";") else ";"
    if separator not in head:
        raise TableError(
            "a decimal comma needs columns separated by semicolons or tabs; in this table 0,5 is two fields"
        )
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=separator, lineterminator="\n")
    numbers: list[bool] = []
    for row in rows:
        if not numbers and any(cell.strip() for cell in row):
            numbers = [cell.strip().lower() in NUMBERS for cell in row]
        elif numbers:
            row = [COMMA.sub(".", cell) if i < len(numbers) and numbers[i] else cell for i, cell in enumerate(row)]
        writer.writerow(row)
    return out.getvalue().encode()
