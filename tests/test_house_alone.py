"""callout phones nobody, runs nobody's code, leaves files only where docs/files.md says, and ends its processes."""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import time
from importlib.metadata import version
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from callout.files import data_folder, tomllib
from callout.processes import module_command, search_path
from tests.test_cli_hostile import BLOCKED

ROOT = Path(__file__).resolve().parent.parent
GOOD = data_folder("audio_fixtures") / "demo" / "whole_clean.flac"
CALLOUT = [str(Path(sys.executable).with_name("callout"))]
#: Modules of the standard library that some helper imports; the one in the current folder leaves a trace.
NAMES = ("json", "queue", "pickle", "struct", "runpy", "wave", "tempfile", "threading", "multiprocessing")

pytestmark = pytest.mark.skipif(os.name != "posix", reason="traces and signals of POSIX")


def environment(home: Path) -> dict[str, str]:
    others = ("XDG_", "ORT_", "CALLOUT_", "COVERAGE_")  # a test whose coverage is measured writes files of its own
    kept = {key: value for key, value in os.environ.items() if not key.startswith(others)}
    return {**kept, "HOME": str(home)}


def traps(folder: Path) -> Path:
    """Files that would be imported in place of the standard library's, each of which tells that it was."""
    trace = folder / "was-run"
    for name in NAMES:
        (folder / f"{name}.py").write_text(f"open({str(trace)!r}, 'a').write({name!r} + '\\n')\nraise SystemExit(0)\n")
    return trace


def without_network() -> list[str]:
    unshare = shutil.which("unshare")
    if unshare is None or subprocess.run([unshare, "-rn", "true"], capture_output=True).returncode:
        return []
    return [unshare, "-rn"]


TRACES = shutil.which("strace") is not None and bool(without_network())
CAN_TRACE = pytest.mark.skipif(not TRACES, reason="strace or a namespace without network is missing")
#: What is traced below runs among the same traps there.
TRACED = pytest.mark.skipif(TRACES, reason="runs traced, among the same traps")


@pytest.mark.audio
@pytest.mark.parametrize(
    "command",
    [
        pytest.param(["hear", str(GOOD)], marks=TRACED),
        pytest.param(["check"], marks=TRACED),
        ["score", "recordings", "--jobs", "2", "--json"],
        pytest.param(["demo", "--json"], marks=pytest.mark.slow),
    ],
)
def test_no_process_runs_a_file_of_the_current_folder(command: list[str], tmp_path: Path) -> None:
    (tmp_path / "recordings").mkdir()
    for name in ("one", "two"):
        shutil.copy(GOOD, tmp_path / "recordings" / f"{name}.flac")
    lines = [json.dumps({"file": f"{name}.flac", "words": "insertion eleven feet sixty"}) for name in ("one", "two")]
    (tmp_path / "recordings" / "manifest.jsonl").write_text("\n".join(lines))
    trace = traps(tmp_path)
    done = subprocess.run([*CALLOUT, *command], cwd=tmp_path, capture_output=True, text=True, timeout=200)
    assert done.returncode == 0, done.stderr
    assert not trace.exists(), trace.read_text()


def test_the_trap_does_catch(tmp_path: Path) -> None:
    """A helper started in the plain way runs what lies in the current folder: the test above can fail."""
    trace = traps(tmp_path)
    subprocess.run([sys.executable, "-m", "callout.speaking.worker", "pyttsx3"], cwd=tmp_path, input=b"", timeout=60)
    assert trace.exists()


def test_a_helper_searches_where_its_parent_does_and_nowhere_else(tmp_path: Path) -> None:
    code = (
        "import os, sys; sys.path.insert(0, ''); sys.path.append('/somewhere/else');"
        "from callout.processes import search_path; print('\\n'.join(search_path()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True,
        text=True, check=True,
    )  # fmt: skip
    found = done.stdout.split("\n")
    assert "/somewhere/else" in found
    assert "" not in found[:-1]
    assert str(tmp_path) not in found
    assert str(ROOT) in search_path()


def test_a_helper_runs_from_a_folder_that_is_no_more(tmp_path: Path) -> None:
    command = shlex.join(module_command("callout.speaking.worker", "pyttsx3"))
    gone = tmp_path / "gone"
    gone.mkdir()
    done = subprocess.run(
        ["sh", "-c", f"cd '{gone}' && rmdir '{gone}' && exec {command}"], input=b"", capture_output=True, timeout=60
    )
    assert done.stdout == b'{"ready": true}\n', done.stderr


def test_telemetry_is_off_before_the_library_can_be_loaded() -> None:
    code = "import callout, os, sys; print(os.environ['ORT_DISABLE_TELEMETRY'], 'onnxruntime' in sys.modules)"
    given = {**os.environ, "ORT_DISABLE_TELEMETRY": "0"}
    assert subprocess.check_output([sys.executable, "-c", code], env=given, text=True).split() == ["1", "False"]


def test_no_newer_version_of_that_library_comes_untried() -> None:
    """Who installs later gets none that nobody looked at: its versions have an upper end, and that was tried here."""
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    (bounds,) = [Requirement(line) for line in pyproject["project"]["dependencies"] if line.startswith("onnxruntime")]
    assert bounds.specifier.contains(version("onnxruntime"))
    assert not bounds.specifier.contains("1.99")
    assert not bounds.specifier.contains("2.0")


CALLS = re.compile(r"(?:open|openat|creat|mkdir|mkdirat|rename\w*|link|symlink)\((?P<given>.*)\) = (?P<got>-?\d+)")
OUTWARD = re.compile(r"socket\(AF_(?!UNIX|LOCAL|UNSPEC)")


def written(trace: str) -> set[str]:
    """The absolute or relative paths that the traced processes made or opened to write."""
    found = set()
    for line in trace.splitlines():
        call = CALLS.search(line)
        if call is None or call["got"].startswith("-"):
            continue
        if "open" in line.split("(")[0] and not re.search(r"O_WRONLY|O_RDWR|O_CREAT", call["given"]):
            continue
        found.update(re.findall(r'"([^"]*)"', call["given"])[-1:])
    return found


#: What the commands are given that hear something, and what each may leave in the current folder.
HEAVY = {
    "hear": (f"hear {GOOD}", ""),
    "check": ("check", ""),
    "listen": (f"listen --from {GOOD} --mute", ""),
    "demo": ("demo", "demo-output"),
    "score": ("score recordings --jobs 2 --out results", "results"),
    "replay": ("replay kept/day.journal", ""),
    "voices": ("voices learn recordings --name kim", ""),
}
#: The rest, one after the other in one process: what they have in common is read in once. Those that need a microphone
#: end when they find none.
LIGHT = {
    "read": 'read "insertion eleven feet sixty"',
    "plan": "plan --insertion 11ft --angle 60 --svg plan.svg --pdf plan.pdf",
    "sizeup": "sizeup --wall-height 14ft --wall-length 30ft --damage-height 10ft",
    "stock": "stock",
    "inspect": "inspect kept/day.journal",
    "log": "log kept/day.journal --handover",
    "card": "card --html card.html",
    "words": "words",
    "sample": "sample -n 2",
    "config": "config",
    "man": "man",
    "schema": "schema check",
    "radio": f"radio {GOOD} radio.wav",
    "record": "record new --speaker Kim --licence CC0-1.0 --consent --mute",
    "drill": "drill Kim --typed",
}
ONE_BY_ONE = """
import json, sys
from callout.cli import main
for name, arguments in json.load(open(sys.argv[1])).items():
    try:
        main(arguments)
    except SystemExit as end:
        print(f"\\n{name} ended with {end.code}", flush=True)
"""
#: It serves a page, and is told where: docs/files.md says so, and the tests of the board look at its addresses.
SERVES = {"board"}


def test_every_command_is_traced_once() -> None:
    from callout.cli import COMMANDS

    assert HEAVY.keys() | LIGHT.keys() | SERVES == COMMANDS.keys()


def traced(line: str, folder: Path) -> tuple[subprocess.CompletedProcess[str], str]:
    """A line of a shell with the calls of all its processes, where there is no network. -> (its end, the trace)"""
    home, temporary = folder / "home", folder / "tmp"
    for made in (home, temporary):
        made.mkdir()
    log = folder / "trace"
    calls = "trace=socket,connect,open,openat,creat,mkdir,mkdirat,rename,renameat,renameat2,link,symlink"
    done = subprocess.run(
        [*without_network(), "strace", "-f", "--seccomp-bpf", "-qq", "-s", "400", "-e", calls, "-o", str(log),
         "sh", "-c", line],
        cwd=folder / "here", env={**environment(home), "TMPDIR": str(temporary), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True, text=True, timeout=280, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    if "PTRACE" in done.stderr:
        pytest.skip("strace may not trace here")
    return done, log.read_text(errors="replace")


def must_be_alone(trace: str, folder: Path) -> None:
    """No socket leads out, and no file is written or left outside what docs/files.md says."""
    home, temporary = folder / "home", folder / "tmp"
    assert not OUTWARD.findall(trace), [line for line in trace.splitlines() if OUTWARD.search(line)][:3]
    own = rf"{home}/\.config($|/pulse|/callout)|{home}/\.cache($|/callout)|{home}/\.local(/share)?$"
    named = re.compile(rf"/dev/|/proc/|{temporary}|{folder}/here/|{own}|{home}/\.local/share/callout")
    assert not {path for path in written(trace) if path.startswith("/") and not named.match(path)}
    assert [path for path in home.rglob("*") if not named.match(str(path))] == []
    assert [path.name for path in temporary.rglob("*") if not path.name.startswith(("pulse-", "callout-voice-"))] == []


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a journal, the sound of its one callout beside it, and recordings to score."""
    folder = tmp_path_factory.mktemp("kept")
    command = ["listen", "--from", str(GOOD), "--mute", "--journal", "kept/day.journal", "--keep-audio"]
    subprocess.run([*CALLOUT, *command], cwd=folder, check=True, capture_output=True, stdin=subprocess.DEVNULL)
    (folder / "recordings").mkdir()
    shutil.copy(GOOD, folder / "recordings" / "one.flac")
    said = ("insertion eleven feet sixty", "insertion eleven feet, sixty degrees")  # one sentence alone teaches nothing
    lines = [json.dumps({"file": "one.flac", "words": words}) for words in said * 20]
    (folder / "recordings" / "manifest.jsonl").write_text("\n".join(lines))
    return folder


@pytest.mark.audio
@CAN_TRACE
@pytest.mark.parametrize(
    "command",
    [name if name in ("check", "listen") else pytest.param(name, marks=pytest.mark.slow) for name in HEAVY],
)
def test_what_hears_opens_no_socket_that_leads_out_and_leaves_no_file(
    command: str, kept: Path, tmp_path: Path
) -> None:
    """Nor runs it a file of the current folder, where traps lie: they would leave a file."""
    line, leaves = HEAVY[command]
    shutil.copytree(kept, tmp_path / "here")
    traps(tmp_path / "here")
    before = set((tmp_path / "here").rglob("*"))
    done, trace = traced(f"{shlex.quote(CALLOUT[0])} {line}", tmp_path)
    assert done.returncode in ((0, 1) if command == "voices" else (0,)), done.stderr  # 1: nothing is kept
    assert "weights/encoder.onnx" in trace  # the ears were opened, and the trace saw it
    must_be_alone(trace, tmp_path)
    left = {path.relative_to(tmp_path / "here").parts[0] for path in set((tmp_path / "here").rglob("*")) - before}
    assert left - {"kept"} <= {leaves} - {""}


@pytest.mark.audio
@CAN_TRACE
def test_what_hears_nothing_opens_no_socket_that_leads_out(kept: Path, tmp_path: Path) -> None:
    shutil.copytree(kept, tmp_path / "here")
    (tmp_path / "light.json").write_text(json.dumps({name: shlex.split(line) for name, line in LIGHT.items()}))
    done, trace = traced(shlex.join([sys.executable, "-IB", "-c", ONE_BY_ONE, str(tmp_path / "light.json")]), tmp_path)
    ended = [line.split() for line in done.stdout.splitlines() if re.fullmatch(r"[a-z]+ ended with \d+", line)]
    assert [name for name, *_ in ended] == list(LIGHT), done.stderr
    assert [name for name, *_, code in ended if code != "0"] == ["record"], done.stderr  # there is no microphone here
    must_be_alone(trace, tmp_path)
    left = {path.name for path in (tmp_path / "here").iterdir()} - {"kept", "recordings"}
    assert left == {"plan.svg", "plan.pdf", "card.html", "radio.wav"}


def test_what_reads_the_trace_finds_files_and_sockets() -> None:
    lines = (
        '12 openat(AT_FDCWD, "/anywhere/.cache/x/deviceid", O_RDWR|O_CREAT, 0666) = 7\n'
        '12 openat(AT_FDCWD, "/etc/hosts", O_RDONLY|O_CLOEXEC) = 7\n'
        '12 mkdir("/anywhere/.cache/x", 0777) = 0\n12 mkdir("/elsewhere", 0777) = -1 EEXIST (File exists)\n'
        "12 socket(AF_INET, SOCK_DGRAM|SOCK_CLOEXEC, IPPROTO_IP) = 9\n12 socket(AF_UNIX, SOCK_STREAM, 0) = 9\n"
    )
    assert written(lines) == {"/anywhere/.cache/x/deviceid", "/anywhere/.cache/x"}
    assert len(OUTWARD.findall(lines)) == 1


def children(pid: int) -> set[int]:
    """Everything below a process, by /proc."""
    parents = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            parents[int(entry.parent.name)] = int(entry.read_text().rpartition(")")[2].split()[1])
        except (OSError, ValueError, IndexError):
            continue
    found, size = {pid}, 0
    while len(found) != size:
        size = len(found)
        found |= {child for child, parent in parents.items() if parent in found}
    return found - {pid}


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.audio
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are counted by /proc")
@pytest.mark.parametrize(
    ("command", "ending"),
    [("score", signal.SIGTERM), ("score", signal.SIGKILL), ("demo", signal.SIGKILL), ("listen", signal.SIGKILL)]
    + [
        pytest.param(command, ending, marks=pytest.mark.slow)
        for command, ending in (
            ("score", signal.SIGHUP), ("demo", signal.SIGTERM), ("listen", signal.SIGTERM), ("hear", signal.SIGHUP),
            ("check", signal.SIGTERM), ("voices", signal.SIGHUP), ("drill", signal.SIGTERM),
        )
    ],
)
def test_no_process_outlives_the_command(command: str, ending: signal.Signals, tmp_path: Path) -> None:
    shutil.copy(GOOD, tmp_path / "one.flac")
    (tmp_path / "manifest.jsonl").write_text(
        "\n".join(json.dumps({"file": "one.flac", "words": "insertion eleven feet sixty"}) for _ in range(3000))
    )
    words = {
        "score": ["score", ".", "--jobs", "2"],
        "demo": ["demo", "--folder", "out"],
        "listen": ["listen", "--measurer", "one.flac", "--logistics", "typed"],
        "hear": ["hear", *["one.flac"] * 2000],
        "check": ["check"],
        "voices": ["voices", "learn", ".", "--name", "kim"],
        "drill": ["drill", "Kim", "--typed"],
    }[command]
    # Of processes, so that the whole tree stands.
    least = {"score": 5, "demo": 3, "listen": 3, "hear": 2, "check": 1, "voices": 2, "drill": 1}[command]
    run = subprocess.Popen(
        [*CALLOUT, *words], cwd=tmp_path, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        until = time.monotonic() + 60
        below: set[int] = set()
        while len(below) < least and time.monotonic() < until and run.poll() is None:
            below = children(run.pid)
            time.sleep(0.05)
        assert len(below) >= least, f"{len(below)} processes, exit {run.poll()}"
        time.sleep(0.3)
        below = children(run.pid)
    finally:
        run.send_signal(ending)
        run.wait(20)
    until = time.monotonic() + 30  # a helper that is still reading its libraries in sees the end only then
    while any(alive(pid) for pid in below) and time.monotonic() < until:
        time.sleep(0.05)
    assert not [pid for pid in below if alive(pid)]


@pytest.mark.audio
@pytest.mark.parametrize(
    "command",
    [
        ["listen", "--from", str(GOOD), "--mute", "--json"],
        ["plan", "--insertion", "11 ft", "--angle", "60"],
        pytest.param(["check"], marks=pytest.mark.slow),
    ],
)
def test_the_main_job_runs_where_nothing_of_posix_is(command: list[str], tmp_path: Path) -> None:
    """As on Windows: without the modules and calls that are not there. It is no Windows: that was never tried."""
    absent = BLOCKED[: BLOCKED.index("import callout")]
    code = f"{absent}\nimport signal\nfor name in ('SIGHUP', 'SIGUSR1'):\n    delattr(signal, name)\n"
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nfrom callout.cli import main; main({command!r})"], cwd=tmp_path,
        capture_output=True, text=True, timeout=200, stdin=subprocess.DEVNULL,
        env={**os.environ, "XDG_STATE_HOME": str(tmp_path / "state")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    wanted = {"listen": '"event": "readback"', "check": "ready to work", "plan": "11 ft"}[command[0]]
    assert wanted in done.stdout, done.stdout
