"""Every public name has a complete type, as a second type checker sees it.

The checker is pyright in the build that comes from the package index with all it needs (it is written in
TypeScript), so that a fresh machine needs no Node.
"""

import json
import os
import subprocess
import sys
from pathlib import Path


def main() -> None:
    command: list[str | Path] = [Path(sys.executable).parent / "basedpyright", "--pythonpath", sys.executable]
    # It does not follow the path file of a package that is installed in place.
    found_at = os.environ | {"PYTHONPATH": str(Path("python").resolve())}
    options = ["--verifytypes", "groundstate", "--ignoreexternal", "--outputjson"]
    done = subprocess.run([*command, *options], capture_output=True, text=True, env=found_at)
    try:
        found = json.loads(done.stdout)["typeCompleteness"]
    except (ValueError, KeyError):
        sys.exit(f"{done.stdout}{done.stderr}")
    for symbol in found["symbols"]:
        for diagnostic in symbol["diagnostics"] if not symbol["isTypeKnown"] else ():
            print(f"{symbol['name']}: {diagnostic['message']}")
    count = sum(found["exportedSymbolCounts"].values())
    if count == 0 or found["completenessScore"] < 1.0:
        sys.exit(f"{100 * found['completenessScore']:.1f} % of {count} public names have a complete type, not all")


main()
