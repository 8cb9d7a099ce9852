"""Reduce what appears in a folder, once each, for as long as it runs: no daemon, a loop that cron or a person starts.

    python examples/watch_folder.py incoming/ --method methods/ --out outcomes/ --every 30
    python examples/watch_folder.py incoming/ --method methods/ --out outcomes/ --once

A table is taken when its size has not changed between two looks, so that a file that is still being written is left
alone. What was done is known from the archive itself, by the SHA-256 of the file that each outcome keeps: the loop can
stop at any moment and start again. A table that cannot be read is said once each time it changes, and stops no other.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import time
from pathlib import Path

import groundstate as gs
from groundstate.__main__ import main as command


def done_already(archive: Path) -> set[str]:
    """Digests of the files whose runs are in the archive."""
    documents = (json.loads(path.read_text(encoding="utf-8")) for path in archive.glob("*.json"))
    return {document["provenance"].get("raw", "") for document in documents}


def settled(folder: Path, sizes: dict[Path, int]) -> list[Path]:
    """The tables whose size is that of the last look; `sizes` is brought up to date."""
    now = {path: path.stat().st_size for path in sorted(folder.glob("*.csv"))}
    ready = [path for path, size in now.items() if sizes.get(path) == size and size > 0]
    sizes.clear()
    sizes.update(now)
    return ready


def look(chosen: argparse.Namespace, sizes: dict[Path, int], refused: set[str]) -> int:
    """One look at the folder; the worst status of what was reduced."""
    worst = 0
    known = done_already(chosen.out)
    for path in settled(chosen.folder, sizes):
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        if digest in known or digest in refused:
            continue
        methods = [part for method in chosen.method for part in ("--method", method)]
        status = command(["reduce", str(path), *methods, "--out", str(chosen.out), "--quiet"])
        print(f"{path.name}: status {status}", flush=True)
        if status == 2:
            refused.add(digest)
        worst = max(worst, status)
    return worst


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Reduce the tables that appear in a folder.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--method", required=True, action="append")
    parser.add_argument("--out", required=True, type=Path)
    parser.add_argument("--every", type=float, default=30.0, metavar="SECONDS")
    parser.add_argument("--once", action="store_true", help="look, wait, look again, and end")
    chosen = parser.parse_args(arguments)
    chosen.out.mkdir(parents=True, exist_ok=True)
    print(f"groundstate {gs.__version__}: {chosen.folder} to {chosen.out}", flush=True)
    sizes: dict[Path, int] = {}
    refused: set[str] = set()
    settled(chosen.folder, sizes)
    while True:
        try:
            time.sleep(chosen.every)
            status = look(chosen, sizes, refused)
        except KeyboardInterrupt:
            return 130
        if chosen.once:
            return status


if __name__ == "__main__":
    sys.exit(main())
