"""The wipe answer as a table: what happened to a drive, what may be done with it, and the first reason."""

from __future__ import annotations

import pytest

from tests.inventory.histories import History

pytestmark = pytest.mark.django_db

SHOW = """
1 blank A
2 join A
3 fit A
4 mandate FMC Jo
5 record HERON-1 FMC
7 stop HERON-1
9 pull A
"""
COPIED = SHOW + "10 copies FMC A\n"
RELEASED = COPIED + "12 release FMC A Jo\n"

TABLE = [
    ("a fresh drive is never YES", "1 new A", "A", "NOT KNOWN", "no start"),
    ("declared blank by a kit manager who says how", "1 blank A", "A", "YES", "nothing on it"),
    ("declared blank, but not how that is known", "1 blank_unsaid A", "A", "NOT KNOWN", "no start"),
    ("declared blank by somebody else", "1 blank A Wes", "A", "NOT KNOWN", "no start"),
    ("recorded, released by nobody", COPIED, "A", "NO", "not released"),
    ("recorded on, before that nobody knows: a recording is no start", "1 join A\n5 record HERON-1 FMC\n7 stop HERON-1",
     "A", "NO", "no start"),
    ("released with what came before unknown", "1 join A\n2 mandate FMC Jo\n5 record HERON-1 FMC\n7 stop HERON-1\n"
     "8 copies FMC A\n9 release FMC A", "A", "NOT KNOWN", "no start"),
    ("released, copied twice on two media, one elsewhere", RELEASED, "A", "YES", "released"),
    ("released, but one copy only", SHOW + "10 copy FMC A tape archive\n12 release FMC A", "A", "NO", "too few copies"),
    ("released, but one copy is not verified", SHOW + "10 copy FMC A tape archive\n10 copy FMC A disk Mill unverified\n"
     "12 release FMC A", "A", "NO", "too few copies"),
    ("released, but both copies are on one kind of medium", SHOW + "10 copy FMC A tape archive\n"
     "10 copy FMC A tape Mill\n12 release FMC A", "A", "NO", "too few copies"),
    ("released, but every copy lies where the drive lies", SHOW + "10 copy FMC A tape Mill\n10 copy FMC A disk Mill\n"
     "12 release FMC A", "A", "NO", "too few copies"),
    ("released, and a copy was reported bad since", RELEASED + "13 badcopy FMC A", "A", "NO", "too few copies"),
    ("released, the copies cover another serial", SHOW + "2 blank B\n10 copies FMC B\n12 release FMC A", "A", "NO",
     "too few copies"),
    ("released, no copies wanted", SHOW + "12 release FMC A Jo no-copies", "A", "YES", "released"),
    ("fewer copies agreed, on the owner's letter", SHOW.replace("FMC Jo", "FMC Jo letter 0 0 0")
     + "12 release FMC A", "A", "YES", "released"),
    ("fewer copies entered, no letter", SHOW.replace("FMC Jo", "FMC Jo 0 0 0") + "12 release FMC A", "A", "NO",
     "too few copies"),
    ("copied before the recording ended", SHOW + "6 copies FMC A\n12 release FMC A", "A", "NO", "too few copies"),
    ("released by somebody without authority", COPIED + "12 release FMC A Steward", "A", "NOT KNOWN",
     "unsure release"),
    ("released, nobody ever entered who may", COPIED.replace("4 mandate FMC Jo\n", "") + "12 release FMC A", "A",
     "NOT KNOWN", "unsure release"),
    ("authority entered after the release heals nothing", COPIED.replace("4 mandate FMC Jo\n", "")
     + "12 release FMC A\n13 mandate FMC Jo", "A", "NOT KNOWN", "unsure release"),
    ("authority that ended after the release breaks nothing", RELEASED + "13 mandate FMC Steward", "A", "YES",
     "released"),
    ("the release names the set, not the serial", COPIED + "12 release FMC HERON-1", "A", "NOT KNOWN",
     "unsure release"),
    ("the release names the set, and this drive had left it", COPIED + "11 drop A\n12 release FMC HERON-1", "A", "NO",
     "not released"),
    ("the release lists another serial", COPIED + "2 blank B\n12 release FMC B", "A", "NO", "not released"),
    ("released before the recording ended", COPIED + "6 release FMC A", "A", "NO", "not released"),
    ("released, then withdrawn", RELEASED + "13 withdraw", "A", "NO", "not released"),
    ("two owners, one released", COPIED.replace("5 record", "4 mandate FMC of:Chess Steward\n5 record")
     + "12 release FMC A Jo", "A", "NO", "not released"),
    ("two owners, both released", COPIED.replace("5 record", "4 mandate FMC of:Chess Steward\n5 record")
     + "12 release FMC A Jo\n12 release FMC A Steward", "A", "YES", "released"),
    ("two shows, one released", RELEASED + "20 mandate CCA Jo\n21 fit A\n22 record HERON-1 CCA\n23 stop HERON-1",
     "A", "NO", "not released"),
    ("recorded without a show's name", SHOW.replace("HERON-1 FMC", "HERON-1"), "A", "NO", "not released"),
    ("named afterwards, then released", SHOW.replace("HERON-1 FMC", "HERON-1") + "10 copies FMC A\n11 name A FMC\n"
     "12 release FMC A", "A", "YES", "released"),
    ("still recording", SHOW.replace("7 stop HERON-1\n", ""), "A", "NO", "recording"),
    ("a stop for another show ends nothing", SHOW.replace("7 stop HERON-1", "7 stop HERON-1 CCA"), "A", "NO",
     "recording"),
    ("on hold", RELEASED + "13 hold A", "A", "NO", "hold"),
    ("its set on hold", RELEASED + "13 hold HERON-1", "A", "NO", "hold"),
    ("its show on hold", RELEASED + "13 hold FMC", "A", "NO", "hold"),
    ("hold lifted", RELEASED + "13 hold A\n14 lift", "A", "YES", "released"),
    ("with the client", RELEASED + "13 hand A Jo", "A", "NO", "with client"),
    ("back from the client", RELEASED + "13 hand A Jo\n15 receive A Jo", "A", "NOT KNOWN", "other hands"),
    ("lent out before it was declared blank", "1 hand A Jo\n2 receive A Jo\n3 blank A", "A", "YES", "nothing on it"),
    ("missed", RELEASED + "13 miss A", "A", "NO", "lost"),
    ("missed and found", RELEASED + "13 miss A\n15 find A", "A", "NOT KNOWN", "lost and found"),
    ("received from somebody who did not hold it", RELEASED + "13 hand A Ana\n15 receive A Tomas", "A", "NOT KNOWN",
     "custody gap"),
    ("handed over by somebody who did not hold it", RELEASED + "13 hand A Ana\n15 hand A Wes Tomas", "A", "NOT KNOWN",
     "custody gap"),
    ("handed over by the one who held it", RELEASED + "13 hand A Ana\n15 hand A Wes Ana", "A", "YES", "released"),
    ("in a box whose seal was another", RELEASED + "13 put A box\n14 seal 004418\n15 sealseen 004481", "A",
     "NOT KNOWN", "another seal"),
    ("in a box whose seal was right", RELEASED + "13 put A box\n14 seal 004418\n15 sealseen 004418", "A", "YES",
     "released"),
    ("fitted, and nobody said whether it recorded", "1 blank A\n3 fit A\n5 pull A", "A", "NOT KNOWN",
     "fitted, recording not told"),
    ("fitted unsaid, then looked at", "1 blank A\n3 fit A\n5 pull A\n6 blank A", "A", "YES", "nothing on it"),
    ("called foreign", RELEASED + "13 foreign A", "A", "NOT KNOWN", "foreign"),
    ("its serial reads as none of ours", RELEASED + "13 serial A 99ZZ9", "A", "NOT KNOWN", "foreign"),
    ("hired from somebody else", RELEASED + "13 owner A Brambleside", "A", "NOT KNOWN", "foreign"),
    ("its serial reads as none of ours, then as its own", RELEASED + "13 serial A 99ZZ9\n14 serial A 71B0AK", "A",
     "YES", "released"),
    ("its serial plate is worn", RELEASED + "13 worn A", "A", "NOT KNOWN", "unreadable serial"),
    ("its serial plate was worn, and is read again", RELEASED + "13 worn A\n14 read A", "A", "YES", "released"),
    ("suspect after a fault", RELEASED + "13 fault A", "A", "NOT KNOWN", "suspect"),
    ("suspect, then a good health check", RELEASED + "13 fault A\n15 health A", "A", "YES", "released"),
    ("suspect, and the health check was bad", RELEASED + "13 fault A\n15 health A bad", "A", "NOT KNOWN", "suspect"),
    ("a wipe under way", RELEASED + "13 wipe A begun", "A", "NO", "wipe under way"),
    ("a wipe stopped is never blank", RELEASED + "13 wipe A begun\n14 wipe A stopped", "A", "YES", "released"),
    ("a wipe that failed", RELEASED + "13 wipe A begun\n14 wipe A failed", "A", "NOT KNOWN", "suspect"),
    ("wiped and verified by a second person", RELEASED + "13 wipe A begun\n14 wipe A verified Ida", "A", "YES",
     "nothing on it"),
    ("verified by the operator: that does not count", RELEASED + "13 wipe A begun\n14 wipe A verified Tomas", "A",
     "YES", "released"),
    ("wiped without a release", COPIED + "13 wipe A begun\n14 wipe A verified Ida", "A", "NO",
     "erased without release"),
    ("release withdrawn while the wipe ran", RELEASED + "13 wipe A begun\n13.5 withdraw\n14 wipe A verified Ida", "A",
     "NO", "erased without release"),
    ("release withdrawn after verification changes nothing", RELEASED + "13 wipe A begun\n14 wipe A verified Ida\n"
     "15 withdraw", "A", "YES", "nothing on it"),
    ("a swap told late: it had held more than was released", RELEASED + "13 wipe A begun\n14 wipe A verified Ida\n"
     "6 fit A sister\n6.2@15 record sister CCA\n6.4@15 stop sister CCA", "A", "NO", "erased without release"),
    ("told to have been erased", COPIED + "13 erased A", "A", "NO", "erased without release"),
    ("destroyed", "1 blank A\n2 scrap A", "A", "NO", "destroyed"),
    ("destroyed on the bench though suspect", RELEASED + "13 fault A\n14 wipe A begun Tomas destroy\n"
     "15 wipe A verified Ida destroy", "A", "NO", "destroyed"),
    ("looking empty clears no content", COPIED + "13 blank A", "A", "NO", "not released"),
    ("saying what is on it clears no content", RELEASED.replace("release FMC A", "release CCA A")
     + "13 given A CCA", "A", "NO", "not released"),
    ("all its content given, and released", "1 given A FMC\n2 mandate FMC Jo\n3 copies FMC A\n4 release FMC A", "A",
     "YES", "released"),
    ("pulled before the recording began", SHOW.replace("9 pull A", "4.5 drop A\n4.6 pull A"), "A", "NOT KNOWN",
     "fitted, recording not told"),
    ("pulled five minutes before the recording began", "1 blank A\n2 join A\n4.92 drop A\n5 record HERON-1 FMC\n"
     "7 stop HERON-1", "A", "NOT KNOWN", "doubtful"),
    ("a member that stayed in the box counts", "1 blank A\n2 join A\n3 put A box\n5 record HERON-1 FMC\n"
     "7 stop HERON-1", "A", "NO", "not released"),
    ("a stranger in the frame counts", "1 blank AB\n2 join A\n3 fit AB\n5 record HERON-1 FMC\n7 stop HERON-1", "B",
     "NO", "not released"),
    ("a stranger in the sister's frame with a member of the set", "1 blank AB\n2 join A\n3 fit AB sister\n"
     "5 record HERON-1 FMC\n7 stop HERON-1", "B", "NO", "not released"),
    ("the frame was named, the set at home there counts", "1 blank A\n2 join A\n5 record frame FMC\n7 stop frame",
     "A", "NO", "not released"),
    ("a recording that names neither", "1 blank A\n3 fit A sister\n5 record - FMC\n7 stop", "A", "NOT KNOWN",
     "doubtful"),
    ("a recording that names neither, accepted by a kit manager", "1 blank A\n3 fit A sister\n5 record - FMC\n7 stop\n"
     "9 pull A\n10 accept A Ida", "A", "YES", "nothing on it"),
    ("a start told afterwards", SHOW.replace("5 record", "5@8 record") + "10 copies FMC A\n12 release FMC A", "A",
     "NOT KNOWN", "reconstructed"),
    ("a start told afterwards, accepted", SHOW.replace("5 record", "5@8 record") + "10 copies FMC A\n"
     "12 release FMC A\n13 accept A", "A", "YES", "released"),
    ("a stop told afterwards: it may have run on", SHOW.replace("7 stop", "7@8 stop") + "10 copies FMC A\n"
     "12 release FMC A", "A", "NOT KNOWN", "doubtful"),
    ("a drop told afterwards shortens nothing", "1 blank A\n2 join A\n4@9 drop A\n5 record HERON-1 FMC\n"
     "7 stop HERON-1", "A", "NOT KNOWN", "doubtful"),
    ("the recording was taken back", "1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n8 undo recording",
     "A", "NOT KNOWN", "corrected"),
    ("taken back, accepted by the one who did", "1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n"
     "8 undo recording Ida\n9 accept A Ida", "A", "NOT KNOWN", "corrected"),
    ("taken back, accepted by another", "1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n"
     "8 undo recording Ida\n9 accept A Mara", "A", "YES", "nothing on it"),
    ("taken back, looked at by another", "1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n"
     "8 undo recording Ida\n9 blank A Mara", "A", "YES", "nothing on it"),
    ("taken back, looked at by the one who did", "1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n"
     "8 undo recording Ida\n9 blank A Ida", "A", "NOT KNOWN", "corrected"),
    ("joining was taken back", "1 blank A\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n8 undo joined",
     "A", "NOT KNOWN", "corrected"),
    ("a stop was taken back", SHOW + "10 undo stopped", "A", "NO", "recording"),
    ("being with the client was taken back", RELEASED + "13 hand A Jo\n14 undo handed over", "A", "NOT KNOWN",
     "corrected"),
    ("a gap that the one who made it accepts", RELEASED + "13 hand A Ana\n15 receive A Steward Mill Ida\n"
     "16 accept A Ida", "A", "NOT KNOWN", "custody gap"),
    ("a gap that another accepts", RELEASED + "13 hand A Ana\n15 receive A Steward Mill Ida\n16 accept A Mara", "A",
     "YES", "released"),
    ("a start that the teller himself accepts", SHOW.replace("5 record HERON-1 FMC", "5@8 record HERON-1 FMC Ida")
     + "10 copies FMC A\n12 release FMC A\n13 accept A Ida", "A", "NOT KNOWN", "reconstructed"),
    ("a miss was taken back", RELEASED + "13 miss A\n14 undo missed", "A", "NOT KNOWN", "corrected"),
    ("a copy was put on it", "1 blank AB\n2 join A\n5 record HERON-1 FMC\n7 stop HERON-1\n8 copy FMC A drive B", "B",
     "NO", "not released"),
    ("the carrier of a copy was recorded on since", SHOW + "10 copy FMC A tape archive\n2 blank B\n"
     "10 copy FMC A disk B\n12 release FMC A\n13 join B CURLEW-1\n14 record CURLEW-1 CCA\n15 stop CURLEW-1", "A", "NO",
     "too few copies"),
    ("the sled holds another drive: both hold what either recorded", "1 blank AB\n2 join A\n5 record HERON-1 FMC\n"
     "7 stop HERON-1\n8 serial A 71B0BK", "B", "NO", "not released"),
    ("the set of that show, the swapped-out drive too", "1 blank AB\n2 join A\n5 record HERON-1 FMC\n6 drop A\n"
     "6 join B\n7 stop HERON-1\n8 mandate FMC Jo\n9 copies FMC AB\n10 release FMC B", "FMC", "NO", "not released"),
    ("a set is as bad as its worst drive", "1 blank AB\n2 join AB\n5 put B Mill\n6 fault B", "HERON-1", "NOT KNOWN",
     "suspect"),
    ("a set counts drives that left it and still hold its show", "1 blank AB\n2 join AB\n5 record HERON-1 FMC\n"
     "7 stop HERON-1\n8 drop AB", "HERON-1", "NO", "not released"),
    ("a set of destroyed drives is not known", "1 blank A\n2 join A\n3 scrap A", "HERON-1", "NOT KNOWN", "no drives"),
    ("an empty set is never YES", "1 new A", "HERON-1", "NOT KNOWN", "no drives"),
    ("all blank", "1 blank AB\n2 join AB", "HERON-1", "YES", "nothing on it"),
]  # fmt: skip

TWO = """
1 blank AB
2 join AB
3 mandate FMC Jo
5 record HERON-1 FMC
7 stop HERON-1
8 copies FMC AB
9 release FMC AB
"""
TABLE += [
    ("the other drive of the show is with the client", TWO + "10 hand B Jo", "A", "NO", "set incomplete"),
    ("the other drive of the show is in another store", TWO + "10 put B Quay", "A", "NO", "set incomplete"),
    ("the other drive is lost", TWO + "10 miss B", "A", "NO", "set incomplete"),
    ("the set was broken up", TWO + "10 hand B Jo\n11 breakup", "A", "YES", "released"),
    ("the set was broken up, though the recording named only the frame",
     TWO.replace("record HERON-1", "record frame").replace("stop HERON-1", "stop frame") + "10 hand B Jo\n11 breakup",
     "A", "YES", "released"),
    ("the recording named only the frame, nothing was broken up",
     TWO.replace("record HERON-1", "record frame").replace("stop HERON-1", "stop frame") + "10 hand B Jo",
     "A", "NO", "set incomplete"),
    ("the other drive was wiped before it was lost",
     TWO + "10 wipe B begun\n11 wipe B verified Ida\n12 miss B", "A", "YES", "released"),
    ("blank drives are never incomplete", "1 blank AB\n2 join AB\n3 hand B Jo", "A", "YES", "nothing on it"),
]  # fmt: skip


@pytest.mark.parametrize(("story", "what", "answer", "word"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_the_wipe_answer_of(story: str, what: str, answer: str, word: str) -> None:
    found = History().tell(story).answer(what)
    assert found.answer == answer, found.sentence
    assert word in [reason.word for reason in found.reasons], found.sentence
    assert found.sentence.startswith(answer)


@pytest.mark.parametrize(("story", "what", "answer", "word"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_every_no_and_not_known_names_a_way_out(story: str, what: str, answer: str, word: str) -> None:
    found = History().tell(story).answer(what)
    stopping = [r for r in found.reasons if found.answer != "YES" and r.word not in {"released", "nothing on it"}]
    assert all(reason.sentence and reason.way_out for reason in stopping)
