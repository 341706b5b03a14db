"""The board's web side without a browser: who may read, who may press, and what a late or double press does.

Cross-site rules: the Host check against DNS rebinding and the Origin check against cross-site requests are those of
the OWASP cheat sheets; the headers are read as any client reads them, over a real socket.
"""

import json
import os
import pty
import re
import select
import shutil
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from types import SimpleNamespace

import numpy
import pytest

pytest.importorskip("starlette", reason="the board's libraries are not installed: pip install 'callout[board]'")

from callout.dialogue.following import follow
from callout.errors import BadInput
from callout.language.numerals import digit_words
from callout.values import Callout
from callout.web import pairing as pairing_module
from callout.web.pairing import ACTIONS, Pairing, Refusal, Tap, act
from callout.web.server import JournalFollower, address_of, invitation, qr_lines
from tests.board_browser import yard
from tests.board_scene import morning, yard_stock
from tests.dialogue_kit import ELEVEN_SIXTY, ft


def ask(there, path="", body=None, *, host=None, origin=None, cookie=None, kind="application/json"):
    """-> status, headers, text."""
    headers = {"Host": host or f"127.0.0.1:{there.port}"}
    data = None
    if body is not None:
        data = body if isinstance(body, bytes) else json.dumps(body).encode()
        headers |= {"Content-Type": kind, "Origin": there.origin if origin is None else origin}
    if cookie:
        headers["Cookie"] = cookie
    request = urllib.request.Request(there.url + path, data, headers)
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:
            return answer.status, dict(answer.headers), answer.read().decode()
    except urllib.error.HTTPError as failed:
        return failed.code, dict(failed.headers), failed.read().decode()


def state_of(there, cookie=None):
    """The first state of a stream."""
    headers = {"Cookie": cookie} if cookie else {}
    request = urllib.request.Request(there.url + "events/stream", headers=headers)
    with urllib.request.urlopen(request, timeout=5) as stream:
        for line in stream:
            if line.startswith(b"data: {"):
                return json.loads(line[6:])
    raise AssertionError("the stream ended")


def paired(there):
    """A cookie of the yard's."""
    assert ask(there, "pair/ask", {})[0] == 200
    status, headers, _ = ask(there, "pair/code", {"code": there.codes[-1]})
    assert status == 200
    return headers["set-cookie"].split(";")[0]


def press(there, action, cookie, build=None, **more):
    build = build or there.desk.followed.board().walked
    body = {"action": action, "build": build.build_id, "card": build.card, "walk": build.walk, **more}
    status, _, text = ask(there, "act/press", body, cookie=cookie)
    return status, json.loads(text)["why"]


@pytest.fixture
def there():
    with yard(ELEVEN_SIXTY) as built:
        yield built


def test_the_page_loads_nothing_from_elsewhere_and_says_so_to_the_browser(there):
    status, headers, text = ask(there)
    assert status == 200
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "no-store"
    assert "Plain HTTP" in text
    for name in ("", "board.js", "board.css"):
        body = ask(there, name)[2]
        assert not re.search(r"https?://|url\(|@import|//[a-z]+\.", body), name
    assert ask(there, "secret.py")[0] == 404
    assert ask(there, "../server.py")[0] == 404


def test_no_word_of_the_page_affirms():
    """Neither a button nor an act: a callout is affirmed by voice."""
    assert not any("affirm" in action for actions in ACTIONS.values() for action in actions)
    with pytest.raises(ValueError, match="action"):
        Tap(action="affirm")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "", "localhost.evil.example:{port}"]
)
def test_another_name_gets_nothing(there, host):
    status, _, text = ask(there, host=host.format(port=there.port) or "x")
    assert status == 403
    assert "html" not in text


@pytest.mark.parametrize("host", ["localhost:{port}", "127.0.0.1:{port}", "192.0.2.7:{port}", "[::1]:{port}"])
def test_a_number_or_an_own_name_is_answered(there, host):
    assert ask(there, host=host.format(port=there.port))[0] == 200


def test_only_a_page_of_the_board_may_change_anything(there):
    cookie = paired(there)
    build = there.desk.followed.board().walked
    body = {"action": "ready", "build": build.build_id, "card": build.card, "walk": build.walk}
    for origin in ("http://evil.example", "null", "", there.origin.replace("http", "https"), "http://127.0.0.1:1"):
        assert ask(there, "act/press", body, cookie=cookie, origin=origin)[0] == 403
    assert ask(there, "act/press", body, cookie=cookie, kind="text/plain")[0] == 403
    assert there.desk.followed.board().walked.pieces_picked == 0
    assert press(there, "ready", cookie) == (200, "")
    assert there.desk.followed.board().walked.pieces_picked == 2


def test_read_only_until_paired_and_read_only_for_good_without_a_desk(there):
    assert press(there, "ready", None)[0] == 401
    assert press(there, "ready", "callout_pair=made-up")[0] == 401
    assert state_of(there)["may"] == []
    with yard(ELEVEN_SIXTY, read_only=True) as other:
        assert ask(other, "pair/ask", {})[0] == 409
        assert press(other, "ready", None)[0] == 409
        assert 'id="pair"' not in ask(other)[2]


def test_the_code_is_used_once_and_the_token_is_out_of_reach_of_scripts(there):
    ask(there, "pair/ask", {})
    code = there.codes[-1]
    assert re.fullmatch(r"\d{4}", code)
    status, headers, text = ask(there, "pair/code", {"code": code})
    assert status == 200
    cookie = headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    token = cookie.split(";")[0].split("=", 1)[1]
    assert len(token) >= 43, "256 bits in base 64"
    assert token not in text
    assert ask(there, "pair/code", {"code": code})[0] == 403, "used up"


def test_a_code_is_void_after_five_wrong_ones_or_three_minutes():
    clock = [0.0]
    gate = Pairing(lambda: clock[0])
    code = gate.offer("logistics")
    assert isinstance(code, str)
    wrong = "0000" if code != "0000" else "1111"
    for _ in range(pairing_module.TRIES):
        assert isinstance(gate.redeem(wrong), Refusal)
    assert isinstance(gate.redeem(code), Refusal)
    assert isinstance(gate.offer("logistics"), Refusal), "nobody makes the voice chatter"
    clock[0] = 40.0
    code = gate.offer("logistics")
    clock[0] += pairing_module.CODE_SECONDS
    assert isinstance(gate.redeem(code), Refusal)
    clock[0] += 60
    token, role = gate.redeem(gate.offer("logistics"))
    assert role == "logistics"
    assert gate.role_of(token) == "logistics"
    clock[0] += pairing_module.TOKEN_SECONDS
    assert gate.role_of(token) is None


def test_a_wrong_side_may_not():
    clock = [0.0]
    gate = Pairing(lambda: clock[0])
    token, _ = gate.redeem(gate.offer("measurer"))
    assert not any(gate.may(token, action) for action in ("ready", "short", "back", "say_again"))
    assert gate.may(token, "silence")


def test_a_measurers_token_cannot_move_the_walk(there):
    token, _ = there.server.pairing.redeem(there.server.pairing.offer("measurer"))
    assert press(there, "ready", f"callout_pair={token}")[0] == 403
    assert there.desk.followed.board().walked.pieces_picked == 0


def test_a_double_or_late_tap_does_nothing_and_says_so(there):
    cookie = paired(there)
    before = there.desk.followed.board().walked
    assert press(there, "ready", cookie, before) == (200, "")
    status, why = press(there, "ready", cookie, before)
    assert status == 409
    assert why == "too late: build 1 is at item two"
    assert there.desk.followed.board().walked.pieces_picked == 2
    after = there.desk.followed.board().walked
    for body in ({"walk": before.walk}, {"card": "item one"}, {"build": 99}):
        shape = {"action": "ready", "build": after.build_id, "card": after.card, "walk": after.walk, **body}
        assert ask(there, "act/press", shape, cookie=cookie)[0] == 409
    assert there.desk.followed.board().walked == after


def test_a_hundred_taps_at_once_are_one(there):
    cookie = paired(there)
    before = there.desk.followed.board().walked
    found = []
    tap = lambda: found.append(press(there, "ready", cookie, before)[0])  # noqa: E731
    threads = [threading.Thread(target=tap) for _ in range(40)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(found) == [200] + [409] * 39
    assert there.desk.followed.board().walked.pieces_picked == 2


def test_every_act_of_the_yard(there):
    cookie = paired(there)
    assert press(there, "ready", cookie)[0] == 200
    assert press(there, "back", cookie)[0] == 200
    assert there.desk.followed.board().walked.card == "item one"
    assert press(there, "say_again", cookie)[0] == 200
    assert press(there, "ready", cookie)[0] == 200
    assert there.desk.followed.board().walked.card == "item two"
    status, why = press(there, "short", cookie)
    assert (status, why) == (409, "short is asked once more first")
    assert not there.desk.followed.board().walked.short
    assert press(there, "short", cookie, sure=True)[0] == 200
    assert there.desk.followed.board().stock, "the count was corrected"
    assert any(record.event == "stock_changed" for record in there.desk._store.records())
    assert press(there, "silence", cookie)[0] == 200


def test_what_the_conversation_answers_to_a_press_comes_back_with_it(there):
    """The crew at the tablet may hear no voice: a refusal is told where it was pressed."""
    cookie = paired(there)
    press(there, "ready", cookie)
    press(there, "back", cookie)
    before = there.desk.followed.board().walked
    status, why = press(there, "short", cookie, sure=True)
    assert (status, why) == (409, "item one is booked as picked. say negative there first.")
    assert there.desk.followed.board().walked == before
    body = {"action": "back", "build": before.build_id, "card": before.card, "walk": before.walk}
    answer = json.loads(ask(there, "act/press", body, cookie=cookie)[2])
    assert answer == {"done": True, "why": "", "said": "that is the first item.", "seq": there.desk.followed.seq}
    assert press(there, "ready", cookie) == (200, "")


def test_what_cannot_be_read_is_no_act(there):
    cookie = paired(there)
    for body in (b"", b"{", b"[]", b"null", b'{"action":"affirm"}', b'{"action":"ready","walk":"1"}', b"[" * 1500,
                 b'{"action":"ready","card":"' + b"x" * 5000 + b'"}'):  # fmt: skip
        assert ask(there, "act/press", body, cookie=cookie)[0] == 400
    assert there.desk.followed.board().walked.pieces_picked == 0


def test_a_stop_word_ends_every_pairing_and_refuses_every_tap(there):
    cookie = paired(there)
    assert state_of(there, cookie)["may"] == list(ACTIONS["logistics"])
    there.say("evacuate")
    outcome = act(there.desk, Tap(action="ready", build=1, card="item one", walk=1))
    assert not outcome.done
    assert "silent since evacuate" in outcome.why
    end = time.monotonic() + 3
    while there.server.pairing.role_of(cookie.split("=", 1)[1]) and time.monotonic() < end:
        time.sleep(0.05)
    assert press(there, "ready", cookie, there.desk.followed.board().open[0])[0] == 401
    there.say("go_ahead")
    assert press(there, "ready", cookie, there.desk.followed.board().open[0])[0] == 401, "pair it again"


def test_nothing_is_shown_that_is_not_written(there):
    """The state on a stream is the fold over the journal's lines, and of nothing else."""
    cookie = paired(there)
    press(there, "ready", cookie)
    time.sleep(0.3)
    shown = state_of(there)["board"]
    assert shown == follow(list(there.desk._store.records()), there.desk.conversation.stock).board().to_json()


def test_hostile_names_stay_names():
    evil = '"><img src=x onerror=alert(1)>\u202e</script>'
    with yard(ELEVEN_SIXTY.merged(Callout(for_whom=evil))) as there:
        assert state_of(there)["board"]["open"][0]["for_whom"] == evil
        assert evil not in ask(there)[2]
        status, headers, text = ask(there, "drawing/1.svg")
        assert status == 200
        assert "<img" not in text
        assert "script-src" not in headers["content-security-policy"]
        assert "sandbox" in headers["content-security-policy"]
        assert ask(there, "drawing/9.svg")[0] == 404


def test_the_server_ends_within_a_second_though_streams_are_open(there):
    streams = [urllib.request.urlopen(there.url + "events/stream", timeout=5) for _ in range(8)]
    for stream in streams:
        stream.readline()
    began = time.monotonic()
    there.end()
    assert time.monotonic() - began < 1.0
    for stream in streams:
        stream.close()


def test_a_taken_port_is_one_line(there):
    from callout.web.server import Server

    with pytest.raises(BadInput, match="choose another --port"):
        Server(lambda: there.desk.followed, port=there.port).start()


def test_a_journal_that_somebody_writes_is_followed(tmp_path):
    from callout.journal import Journal

    path = tmp_path / "yard.journal"
    lines = [record.model_copy(update={"seq": None}) for record in morning()]
    with Journal.open(path) as journal:
        for line in lines[:40]:
            journal.append(line)
        look = JournalFollower(path, yard_stock())
        assert look().seq == 40
        assert look() is look(), "nothing new is nothing to send"
        for line in lines[40:]:
            journal.append(line)
        assert look().board().walked.number == 2
        assert look.live()
    assert look.live() is False
    look.close()


def test_a_board_tells_when_nobody_writes_its_journal_any_more(tmp_path):
    """A board left on beside yesterday's journal looks like one that is live, but for this."""
    from callout.journal import Journal
    from callout.web.server import Server
    from tests.board_browser import free_port

    path, port = tmp_path / "yard.journal", free_port()
    writer = Journal.open(path)
    for line in morning():
        writer.append(line)
    look = JournalFollower(path, yard_stock())
    server = Server(look, port=port, live=look.live)
    there = SimpleNamespace(port=port, url=f"http://127.0.0.1:{port}/")
    server.start()
    try:
        assert state_of(there)["board"]["live"] is True
        writer.close()
        end = time.monotonic() + 5
        while state_of(there)["board"]["live"]:
            assert time.monotonic() < end
            time.sleep(0.1)
        writer = Journal.open(path)
        assert writer.writable, "a board that looks on keeps nobody from writing"
        while not state_of(there)["board"]["live"]:
            assert time.monotonic() < end + 5
            time.sleep(0.1)
    finally:
        writer.close()
        server.stop()
        look.close()


@pytest.mark.parametrize(
    ("text", "meant"),
    [("0.0.0.0", ("0.0.0.0", 8040)), ("192.0.2.7:9000", ("192.0.2.7", 9000)), ("9000", ("127.0.0.1", 9000)),
     ("[::1]:9000", ("::1", 9000))],
)  # fmt: skip
def test_where_a_board_is_asked_for(text, meant):
    assert address_of(text) == meant


@pytest.mark.parametrize("text", ["evil.example", "0.0.0.0:0", "0.0.0.0:99999", "1.2.3:8040", "", "x:y"])
def test_what_is_no_address(text):
    with pytest.raises(BadInput, match="--board"):
        address_of(text)


def test_the_invitation_has_the_address_and_what_to_know():
    assert invitation("http://192.0.2.7:8040/").splitlines()[0] == "board: http://192.0.2.7:8040/"
    assert "plain HTTP" in invitation("http://192.0.2.7:8040/")
    assert "on this machine only" in invitation("http://127.0.0.1:8040/")
    assert qr_lines("http://127.0.0.1:8040/") == [], "no tablet reaches it"


def seen_on(text: str) -> numpy.ndarray:
    """What a camera sees of the QR code in what a terminal is given: its own signs and colours, a module 8 points."""
    black_on_white = re.compile(r"\x1b\[38;5;16;48;5;231m([ ▀▄█]+)\x1b\[0m")
    rows = [found[1] for line in text.splitlines() if (found := black_on_white.fullmatch(line))]
    dots = [[sign in dark for sign in row] for row in rows for dark in ("▀█", "▄█")]
    return numpy.kron(numpy.where(dots, 0, 255), numpy.ones((8, 8))).astype("uint8")


@pytest.mark.parametrize("url", ["http://192.0.2.7:8040/", "http://[2001:db8::7]:65535/"])
def test_the_qr_code_is_read_back_from_the_terminals_own_signs(tmp_path, url):
    """By zbarimg, a reader outside this project. The quiet zone is four modules on every side (ISO/IEC 18004)."""
    picture = seen_on("\n".join(qr_lines(url)))
    dark = numpy.argwhere(picture == 0)
    first, last = dark.min(axis=0) // 8, dark.max(axis=0) // 8
    assert tuple(first) == (4, 4)
    assert all(size // 8 - 1 - at >= 4 for size, at in zip(picture.shape, last, strict=True))
    if shutil.which("zbarimg") is None:
        pytest.skip("no reader of QR codes here; on Debian: apt-get install zbar-tools")
    file = tmp_path / "code.pgm"
    file.write_bytes(b"P5 %d %d 255\n" % picture.shape[::-1] + picture.tobytes())
    read = subprocess.run(["zbarimg", "--quiet", "--raw", str(file)], capture_output=True, text=True, timeout=30)
    assert read.stdout.strip() == url


def test_the_qr_code_reaches_the_terminal_as_it_was_drawn(tmp_path):
    """The program in a pseudo-terminal: what keeps foreign text harmless leaves its own drawing alone."""
    from tests.board_browser import free_port

    port = free_port()
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "callout", "listen", "--typed", "--mute", "--board", f"0.0.0.0:{port}"]
    program = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, cwd=tmp_path)
    shown, end = "", time.monotonic() + 40
    try:
        while "\x1b[0m\r\n" not in shown[-400:] or shown.count("\x1b[0m") < 15:
            assert time.monotonic() < end, shown
            if select.select([ours], [], [], 0.2)[0]:
                shown += os.read(ours, 65536).decode()
    finally:
        program.kill()
        program.wait()
        os.close(ours)
        os.close(theirs)
    assert seen_on(shown.replace("\r\n", "\n")).min() == 0
    assert f":{port}/" in shown


def test_taps_walk_to_the_end_and_only_a_voice_says_that_it_stands(there):
    cookie = paired(there)
    for _ in range(40):
        now = there.desk.followed.board()
        if now.waiting:
            break
        assert press(there, "ready", cookie, now.open[0])[0] == 200
    (asked,) = now.waiting
    assert (asked.role, asked.kind, asked.say) == ("logistics", "stands", "affirm, or negative")
    for action in ACTIONS["logistics"]:
        press(there, action, cookie, there.desk.followed.board().open[0], sure=True)
    assert not there.desk.followed.board().standing, "no button says yes"
    there.say("stands", "logistics")
    there.say("affirm", "logistics")
    assert there.desk.followed.board().standing[0].state == "stands"
    picked = [record for record in there.desk._store.records() if record.event == "picked"]
    assert {record.speaker for record in picked} == {"logistics"}


def test_a_callout_that_waits_is_never_released_by_any_tap(there):
    cookie = paired(there)
    there.say(Callout(insertion=ft(8), angle_deg=45))
    for action in (*ACTIONS["logistics"], *ACTIONS["measurer"]):
        press(there, action, cookie, there.desk.followed.board().open[0], sure=True)
    assert there.desk.followed.board().waiting, "it still waits for its yes"
    assert sum(record.event == "released" for record in there.desk._store.records()) == 1


@pytest.mark.parametrize("said", ["cancel all pairs", "unpair the tablet", "evacuate"])
def test_who_says_so_ends_every_pairing(said):
    from callout.language.resolve import resolve_text

    with yard(ELEVEN_SIXTY) as there:
        there.desk.on_unpair = there.server.pairing.revoke
        cookie = paired(there)
        assert state_of(there, cookie)["role"] == "logistics"
        there.desk.heard(resolve_text(said, there.desk.contexts["logistics"]), said, "logistics", certain=True)
        time.sleep(0.4)
        assert state_of(there, cookie)["role"] is None
        assert press(there, "ready", cookie)[0] == 401


def test_the_code_is_spoken_and_stands_in_no_file(tmp_path):
    """The program itself, its voice going to files: neither the journal, nor those files, nor what it prints as
    records has the code or the token; the line that is shown where callout runs has the code, once."""
    from tests.board_browser import free_port

    port, journal, voices = free_port(), tmp_path / "day.journal", tmp_path / "voice"
    command = [sys.executable, "-m", "callout", "listen", "--typed", "--json", "--journal", str(journal),
               "--voice-dir", str(voices), "--board", f"127.0.0.1:{port}"]  # fmt: skip
    pipes = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.PIPE)
    program = subprocess.Popen(command, text=True, **pipes)
    there = SimpleNamespace(port=port, url=f"http://127.0.0.1:{port}/", origin=f"http://127.0.0.1:{port}")
    try:
        for _ in range(200):
            try:
                assert ask(there, "pair/ask", {})[0] == 200
                break
            except urllib.error.URLError:
                time.sleep(0.1)
        told = map(re.compile(r"code for the board of logistics: (\d{4})").search, iter(program.stderr.readline, ""))
        code = next(found[1] for found in told if found)
        status, headers, _ = ask(there, "pair/code", {"code": code})
        assert status == 200
        token = re.search(r"callout_pair=([^;]+)", headers["set-cookie"])[1]
        records, notes = program.communicate("radio check\n", timeout=60)
    finally:
        program.kill()
    spoken = ". ".join(digit_words(int(digit))[0] for digit in code)
    kept = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()) + records.encode()
    assert b"its code was spoken" in kept, "that there was one is told"
    for secret in (code, token, spoken):
        assert secret.encode() not in kept.replace(str(port).encode(), b""), secret
    assert code not in notes.replace(str(port), "")
    files = [path.name for path in voices.iterdir()]
    assert any("callout-hears-you" in name for name in files), "other sentences are kept"
    assert not any("code-for-the-board" in name for name in files)
