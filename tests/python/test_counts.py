"""The judgement on instruction counts (tools/counts.py); the counting itself is `./dev counts`."""

import json
import sys
from pathlib import Path

import pytest

from tools import counts

RECORDED = {"fit": 10_000, "invert_into": 2_000_000}


def judged(fit: int) -> counts.Judgement:
    return counts.judge({"fit": fit, "invert_into": 2_000_000}, RECORDED, "rustc 1.2.3, abc")


@pytest.mark.parametrize("fit", [9_700, 10_000, 10_300])
def test_within_three_per_cent_passes(fit: int) -> None:
    judgement = judged(fit)
    assert judgement.status == 0
    assert all(line.endswith(": as recorded") for line in judgement.lines)


def test_above_fails_and_names_the_path() -> None:
    judgement = judged(10_301)
    assert judgement.status == 1
    (line,) = (line for line in judgement.lines if "FAILED" in line)
    assert line == "fit: 10,301 instructions, record 10,000 (+3.01%): FAILED, more than 3 % above the record"


def test_below_passes_and_asks_to_commit() -> None:
    judgement = judged(9_699)
    assert judgement.status == 0
    assert "please run ./dev counts --write and commit" in judgement.lines[0]
    assert judgement.lines[1].endswith(": as recorded")


def test_an_unknown_compiler_is_not_judged_and_says_so() -> None:
    judgement = counts.judge({"fit": 10_000}, None, "rustc 1.2.3, abc")
    assert judgement.status == 0
    assert judgement.lines[0] == "fit: 10,000 instructions"
    assert judgement.lines[1].startswith("NOT JUDGED: no counts on record for rustc 1.2.3, abc")


@pytest.mark.parametrize(
    ("counted", "said"),
    [({"fit": 10_000}, "invert_into: FAILED, not counted"), ({**RECORDED, "new": 1}, "new: FAILED, not on record")],
)
def test_a_path_on_one_side_only_fails(counted: dict[str, int], said: str) -> None:
    judgement = counts.judge(counted, RECORDED, "rustc 1.2.3, abc")
    assert judgement.status == 1
    assert any(line.startswith(said) for line in judgement.lines)


def test_the_key_is_version_and_processor() -> None:
    version = (
        "rustc 1.2.3 (abc 2000-01-01)\nbinary: rustc\nhost: abc-unknown-linux-gnu\nrelease: 1.2.3\nLLVM version: 9\n"
    )
    assert counts.compiler_in(version) == "rustc 1.2.3, abc"


def test_the_slope_is_the_power() -> None:
    sizes = [10.0, 100.0, 1000.0]
    # Three exact powers: only the rounding of the logarithms is left.
    assert counts.slope(sizes, [3 * size**1.5 for size in sizes]) == pytest.approx(1.5, rel=1e-12)


def test_what_is_committed_has_a_count_for_every_path() -> None:
    record = json.loads(counts.RECORD.read_text(encoding="utf-8"))
    assert record
    for recorded in record.values():
        assert recorded.keys() == counts.PATHS.keys()
        assert all(count > 0 for count in recorded.values())


def test_without_valgrind_nothing_passes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(counts.Unusable, match="apt-get install valgrind"):
        counts.total(Path(sys.executable), "fit", 1)


def test_a_program_that_fails_is_not_counted(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    tool = tmp_path / "valgrind"
    tool.write_text("#!/bin/sh\necho broken >&2\nexit 1\n")
    tool.chmod(0o755)
    monkeypatch.setattr(counts, "valgrind", lambda: str(tool))
    with pytest.raises(counts.Unusable, match="broken"):
        counts.total(Path(sys.executable), "fit", 1)


@pytest.mark.parametrize("works", [True, False])
def test_root_gets_valgrind_installed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, works: bool) -> None:
    tool = tmp_path / "valgrind"
    installer = tmp_path / "apt-get"
    bring = f'case "$*" in *"install --yes"*valgrind) : >{tool}; /bin/chmod +x {tool} ;; esac' if works else "exit 100"
    installer.write_text(f"#!/bin/sh\n{bring}\n")
    installer.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("os.geteuid", lambda: 0)
    if works:
        assert counts.valgrind() == str(tool)
    else:
        with pytest.raises(counts.Unusable, match="nothing was counted"):
            counts.valgrind()
