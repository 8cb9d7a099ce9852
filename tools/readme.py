"""Run the code of Markdown files, so that what they show is what happens.

Blocks marked `python` run in order in one namespace, blocks marked `sh` in a shell that stops at the first
failure, all of a file in one temporary folder. A `text` block right after one of them is its output: it must
occur there line by line, where a line `...` stands for any number of lines. Blocks marked `console` are shown
and not run (they install, or run for minutes); they are counted, so that nobody takes them for tested. Blocks
marked `rust` are compiled and run by rustdoc.
"""

import contextlib
import io
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

BLOCK = re.compile(r"^```(\w*)[^\n]*\n(.*?)^```[ ]*$", re.MULTILINE | re.DOTALL)
KNOWN = {"python", "sh", "text", "console", "rust", "toml", "json", "csv"}


def run_python(code: str, where: str, namespace: dict[str, object]) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, where, "exec"), namespace)
    return out.getvalue()


def run_shell(code: str) -> str:
    path = os.pathsep.join([os.path.dirname(sys.executable), os.environ["PATH"]])
    done = subprocess.run(
        ["sh", "-eu", "-c", code],
        env={**os.environ, "PATH": path},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        raise RuntimeError(f"exit status {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def shows(output: str, expected: str) -> bool:
    gap = r"(?:.*\n)*?"
    parts = [gap if line.strip() == "..." else re.escape(line.rstrip()) + r"[ ]*\n" for line in expected.splitlines()]
    return re.search("^" + "".join(parts), output, re.MULTILINE) is not None


def check(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    namespace: dict[str, object] = {"__name__": "__main__"}
    ran, shown, last, output = 0, 0, -1, ""
    for match in BLOCK.finditer(text):
        kind, code = match[1], match[2]
        line = text.count("\n", 0, match.start()) + 1
        where = f"{path.name}:{line}"
        if kind not in KNOWN:
            sys.exit(f"{where}: a code block must say what it is, one of {', '.join(sorted(KNOWN))}")
        shown += kind == "console"
        try:
            if kind == "python":
                # Blank lines in front make the line numbers of a traceback those of the file.
                output = run_python("\n" * line + code, where, namespace)
            elif kind == "sh":
                output = run_shell(code)
            elif kind == "text" and last >= 0 and not text[last : match.start()].strip() and not shows(output, code):
                sys.exit(f"{where}: this is not what the block before it prints, which is\n{output}")
        except Exception as error:
            raise SystemExit(f"{where}: the block fails: {type(error).__name__}: {error}") from error
        ran += kind in ("python", "sh")
        last = match.end() if kind in ("python", "sh") else -1
    print(f"{path.name}: {ran} blocks ran, {shown} shown and not run")


files = [Path(name).resolve() for name in sys.argv[1:]]
for file in files:
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        check(file)
