"""What is no clip says so in one sentence, within seconds; what is a damaged clip opens as far as it goes."""

from __future__ import annotations

import time
import wave

import av
import numpy as np
import pytest
from numbered import Film, read_number, shoot

from casebook import CasebookError
from casebook.clip.clip import Clip
from casebook.errors import ClipError

SECONDS = 5  # Generous on a busy machine; the work itself takes a few hundredths.
GROUPS = {"x264-params": "bframes=2:keyint=12:min-keyint=12"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("bad")


@pytest.fixture(scope="module")
def sound_files(folder):
    endings = ("mp4", "mkv", "ts", "avi")
    files = {e: shoot(folder / f"film.{e}", Film(n=72, options=GROUPS)) for e in endings}
    files["front.mp4"] = shoot(
        folder / "front.mp4", Film(n=72, options=GROUPS, container_options={"movflags": "+faststart"})
    )
    files["webm"] = shoot(
        folder / "film.webm",
        Film(n=72, codec="libvpx-vp9", options={"deadline": "realtime", "cpu-used": "8", "g": "12"}),
    )
    files["mpeg4.avi"] = shoot(folder / "mpeg4.avi", Film(n=72, codec="mpeg4", options={"g": "12", "qscale": "4"}))
    files["mjpeg.avi"] = shoot(folder / "mjpeg.avi", Film(n=72, codec="mjpeg", pix_fmt="yuvj420p", full_range=True))
    return files


def refused(path) -> ClipError:
    begun = time.monotonic()
    with pytest.raises(CasebookError) as caught:
        Clip(path)
    assert time.monotonic() - begun < SECONDS
    error = caught.value
    assert isinstance(error, ClipError)
    assert path.name in error.problem
    assert error.remedy
    assert "\n" not in str(error)
    return error


def test_a_missing_file(folder):
    assert "no file" in refused(folder / "nowhere.mp4").problem


def test_a_folder(folder):
    assert "is a folder" in refused(folder).problem


def test_an_empty_file(folder):
    (folder / "empty.mp4").touch()
    assert "empty" in refused(folder / "empty.mp4").problem


@pytest.mark.parametrize("name", ["notes.txt", "notes.mp4", "noise.mp4", "noise.avi", "list.m3u8", "list.mp4"])
def test_what_is_not_a_video(folder, name):
    contents = {
        "notes": b"Length 3: late catch on the left.\n" * 50,
        "noise": np.random.default_rng(1).bytes(200_000),
        "list": b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nhttp://localhost:9/a.ts\n#EXT-X-ENDLIST\n",
    }
    (folder / name).write_bytes(contents[name.split(".")[0]])
    refused(folder / name)


def test_a_photograph(folder):
    from PIL import Image

    Image.new("RGB", (64, 48)).save(folder / "photo.jpg")
    assert "is not a video" in refused(folder / "photo.jpg").problem


def test_sound_alone(folder):
    with wave.open(str(folder / "sound.wav"), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(8000)
        out.writeframes(bytes(16_000))
    assert "sound but no pictures" in refused(folder / "sound.wav").problem


def test_an_mp4_cut_before_its_index(folder, sound_files):
    data = sound_files["mp4"].read_bytes()
    for share in (0.1, 0.5, 0.9):
        (folder / "cut.mp4").write_bytes(data[: int(share * len(data))])
        assert "cut off before its index" in refused(folder / "cut.mp4").problem


def test_a_coding_that_nobody_knows(folder, sound_files):
    data = sound_files["mp4"].read_bytes()
    assert data.count(b"avc1") >= 1
    (folder / "unknown.mp4").write_bytes(data.replace(b"avc1", b"zq9x").replace(b"avcC", b"zq9C"))
    assert "cannot be decoded" in refused(folder / "unknown.mp4").problem


@pytest.mark.parametrize("ending", ["mp4", "mov", "avi"])
def test_no_pictures_at_all(folder, ending):
    path = folder / f"none.{ending}"
    with av.open(str(path), "w") as box:
        stream = box.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt = 160, 96, "yuv420p"
        box.start_encoding()
    assert "no pictures" in refused(path).problem


def test_pictures_of_which_none_decodes(folder, sound_files):
    with av.open(str(sound_files["mp4"])) as box:
        packets = [(p.pos, p.size) for p in box.demux(video=0) if p.size]
    data = bytearray(sound_files["mp4"].read_bytes())
    for at, size in packets:
        data[at : at + size] = bytes(size)
    (folder / "zeroed.mp4").write_bytes(data)
    assert "no picture of it can be decoded" in refused(folder / "zeroed.mp4").problem


@pytest.mark.parametrize("kind", ["mkv", "webm", "ts", "avi", "front.mp4", "mpeg4.avi", "mjpeg.avi"])
@pytest.mark.parametrize("share", [0.5, 0.7, 0.9])
def test_a_cut_clip_opens_as_far_as_it_goes(folder, sound_files, kind, share):
    data = sound_files[kind].read_bytes()
    path = folder / f"cut_{share}_{sound_files[kind].name}"
    path.write_bytes(data[: int(share * len(data))])
    clip = Clip(path)
    assert 72 * (share - 0.35) < clip.n_frames < 72
    damaged = set(clip.check(progress=False))
    assert len(damaged) <= 3
    clip.close()
    # Near the cut a picture may be gone while one shown after it survives: the times tell them apart.
    numbers = np.rint(clip.times * 60).astype(int)
    assert np.array_equal(numbers[:-3], np.arange(clip.n_frames - 3))
    for i in reversed(range(clip.n_frames)):
        if i not in damaged:
            assert read_number(clip.frame(i)) == numbers[i]
    for i in damaged:
        with pytest.raises(ClipError, match=f"Frame {i} of"):
            clip.frame(i)


def test_a_cut_that_the_index_shows_is_told(folder, sound_files):
    data = sound_files["front.mp4"].read_bytes()
    (folder / "told.mp4").write_bytes(data[: int(0.6 * len(data))])
    notes = Clip(folder / "told.mp4").facts.notes
    assert any("promises 72 pictures" in n for n in notes)


@pytest.mark.parametrize("kind", ["mkv", "webm"])
def test_a_cut_that_the_head_of_the_file_shows_is_told(folder, sound_files, kind):
    data = sound_files[kind].read_bytes()
    path = folder / f"short.{kind}"
    path.write_bytes(data[: int(0.5 * len(data))])
    (told,) = Clip(path).facts.losses
    assert "lasts 1.2 s, but its pictures end at" in told
    assert not Clip(sound_files[kind]).facts.losses, "a whole file has lost nothing"


def damage(path, out, places, rng):
    """Flip three bytes inside each packet of ``places`` (in decoding order)."""
    with av.open(str(path)) as box:
        packets = [(p.pos, p.size) for p in box.demux(video=0) if p.size]
    data = bytearray(path.read_bytes())
    for place in places:
        at, size = packets[place]
        for k in range(3):
            data[at + int(size * 0.3) + 7 * k] ^= int(rng.integers(1, 255))
    out.write_bytes(data)
    return out


def agree_or_are_listed(clip: Clip, clean: list[np.ndarray], damaged: set[int]) -> int:
    """Every frame is refused if listed; returns how many others differ from the undamaged film."""
    wrong = 0
    for i in np.random.default_rng(0).permutation(clip.n_frames):
        if i in damaged:
            with pytest.raises(ClipError) as caught:
                clip.frame(int(i))
            assert caught.value.facts["frame"] == i
            near = caught.value.facts["nearest"]
            assert near is None or (near not in damaged and str(near) in caught.value.remedy)
        else:
            wrong += int(np.abs(clip.frame(int(i)).astype(int) - clean[i]).max() > 12)
    return wrong


@pytest.mark.parametrize("kind", ["mp4", "mkv", "mpeg4.avi"])
def test_flipped_bytes_are_noticed_and_what_is_built_on_them_is_refused(folder, sound_files, kind):
    rng = np.random.default_rng(11)
    clean = list(Clip(sound_files[kind]).frames())
    noticed = wrong = 0
    for place in (14, 25, 37, 41, 50, 62):
        clip = Clip(damage(sound_files[kind], folder / f"flip_{sound_files[kind].name}", [place], rng))
        damaged = set(clip.check(progress=False))
        assert clip.damaged == tuple(sorted(damaged))
        assert len(damaged) <= 16  # At most one group, and what reaches over into the next.
        noticed += bool(damaged)
        wrong += agree_or_are_listed(clip, clean, damaged)
    # A decoder cannot notice every flipped byte; that it notices most is what the list is worth.
    assert noticed >= 4
    assert wrong <= 24


def test_damage_found_on_asking_is_that_found_by_checking(folder, sound_files):
    path = damage(sound_files["mp4"], folder / "flip.mp4", [25, 50], np.random.default_rng(2))
    asked = Clip(path)
    for i in np.random.default_rng(5).permutation(asked.n_frames):
        try:
            asked.frame(int(i))
        except ClipError:
            continue
    assert asked.damaged
    assert asked.damaged == Clip(path).check(progress=False)


def test_the_error_of_a_damaged_frame_names_file_frame_and_a_sound_neighbour(folder, sound_files):
    path = damage(sound_files["mjpeg.avi"], folder / "flip.avi", [], np.random.default_rng(0))
    data = bytearray(path.read_bytes())
    with av.open(str(path)) as box:
        at, size = [(p.pos, p.size) for p in box.demux(video=0) if p.size][30]
    data[at + 8 : at + 8 + size - 8] = bytes(size - 8)
    path.write_bytes(data)
    clip = Clip(path)
    with pytest.raises(ClipError, match=r'Frame 30 of "flip\.avi"') as caught:
        clip.frame(30)
    assert caught.value.facts["nearest"] in (29, 31)
    assert clip.damaged == (30,)
    assert read_number(clip.frame(caught.value.facts["nearest"])) == caught.value.facts["nearest"]


@pytest.mark.parametrize("kind", ["mp4", "mkv", "webm", "ts", "avi", "mpeg4.avi", "mjpeg.avi"])
def test_bytes_flipped_anywhere_never_raise_anything_else(folder, sound_files, kind):
    rng = np.random.default_rng(23)
    data = sound_files[kind].read_bytes()
    for _ in range(15):
        bad = bytearray(data)
        for at in rng.integers(0, len(bad), 12):
            bad[at] ^= int(rng.integers(1, 256))
        path = folder / f"any_{sound_files[kind].name}"
        path.write_bytes(bad)
        begun = time.monotonic()
        try:
            clip = Clip(path)
            for i in rng.integers(0, clip.n_frames, 6):
                try:
                    clip.frame(int(i))
                except ClipError:
                    continue
            clip.check(progress=False)
            clip.close()
        except ClipError:
            continue
        finally:
            assert time.monotonic() - begun < 3 * SECONDS


def test_a_file_that_vanishes_later_is_an_error_in_words(folder, sound_files):
    path = folder / "gone.mkv"
    path.write_bytes(sound_files["mkv"].read_bytes())
    clip = Clip(path)
    clip.close()
    path.unlink()
    with pytest.raises(ClipError, match="no file"):
        clip.frame(3)
