import hashlib
import os
import re
import tracemalloc

import gpxpy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from track_points import HEAD, ROOT, gpx, point, straight
from ullage.duty import gpx as reader
from ullage.duty.gpx import LONGEST_TAG, MOST_FAULTS, TrackError, read_points

GOOD = gpx([point(0, 1.5, 0), point(10, 2, 1)], [point(30.5, 3, 2.25)])


@pytest.fixture
def read(tmp_path):
    """Return a function that reads bytes or text as a track."""

    def of(content):
        path = tmp_path / "lap.gpx"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_points(path)

    return of


@pytest.fixture
def faults(read):
    """Return a function that gives the faults of a track as (line, column, sentence); 0 is unknown."""

    def of(content):
        with pytest.raises(TrackError) as caught:
            read(content)
        found = [re.fullmatch(r".*lap\.gpx(?::(\d+): column (\d+))?: (.+)", str(each)) for each in caught.value.faults]
        return [(int(match[1] or 0), int(match[2] or 0), match[3]) for match in found]

    return of


def test_points_come_in_the_order_of_the_file(read):
    points = read(GOOD)
    assert points.longitude * 111_319.4908 == pytest.approx([0.0, 10.0, 30.5], abs=1e-3)  # nine decimals of a degree
    assert points.elevation.tolist() == [1.5, 2.0, 3.0]
    assert (points.time - 978339600.0).tolist() == [0.0, 1.0, 2.25]  # 2001-01-01T09:00:00Z; `date -u +%s`
    assert np.diff(points.piece).tolist() == [0, 1]
    assert points.digest == hashlib.sha256(GOOD.encode()).hexdigest()


def test_another_reader_finds_the_same_points(read):
    noise = np.random.default_rng(3).normal(size=(200, 3))
    text = gpx([point(30 * t + a, f"{b:.2f}", t, north=50 * c) for t, (a, b, c) in enumerate(noise.tolist())])
    ours, theirs = read(text), [each.point for each in gpxpy.parse(text).get_points_data()]
    assert ours.latitude.tolist() == [each.latitude for each in theirs]
    assert ours.longitude.tolist() == [each.longitude for each in theirs]
    assert ours.elevation.tolist() == [each.elevation for each in theirs]
    assert ours.time.tolist() == [each.time.timestamp() for each in theirs]


@pytest.mark.parametrize(
    "content",
    [
        b"\xef\xbb\xbf" + GOOD.encode(),
        GOOD.replace("\n", "\r\n"),
        GOOD.replace("UTF-8", "ISO-8859-1"),
        GOOD.replace("/1/1", "/1/0").replace("1.1", "1.0"),
        GOOD.replace("<trkpt", "<g:trkpt")
        .replace("</trkpt", "</g:trkpt")
        .replace("xmlns", 'xmlns:g="x" xmlns', 1)
        # another prefix of the same namespace
        .replace('xmlns:g="x"', 'xmlns:g="http://www.topografix.com/GPX/1/1"'),
        GOOD.replace("<trkpt", "<!-- a remark --><trkpt"),
        GOOD.replace("</trkpt>", "<extensions><e:ele xmlns:e='y'>9</e:ele><speed>3</speed></extensions></trkpt>"),
        GOOD.replace("<trk>", '<wpt lat="1" lon="2"><ele>7</ele></wpt><rte><rtept lat="1" lon="2"/></rte><trk>'),
        GOOD.replace("<ele>2</ele>", "<ele>\n 2.0\t</ele>").replace("+00:00", "Z"),
    ],
    ids=range(9),
)
def test_what_says_the_same_reads_the_same(read, content):
    for ours, wanted in zip(read(content)[:5], read(GOOD)[:5], strict=True):
        assert np.array_equal(ours, wanted)


def test_absent_elevation_and_time_are_not_a_number(read):
    points = read(gpx([point(0), point(10, 5), point(20, None, 3)]))
    assert np.isnan(points.elevation).tolist() == [True, False, True]
    assert np.isnan(points.time).tolist() == [True, True, False]


def test_time_without_a_zone_is_utc_and_counted(read):
    points = read(GOOD.replace("09:00:01+00:00", "09:00:01").replace("09:00:00+00:00", "11:00:00+02:00"))
    assert points.without_zone == 1
    assert (points.time - 978339600.0).tolist() == [0.0, 1.0, 2.25]


BOMB = '<!DOCTYPE gpx [<!ENTITY a "ha">' + "".join(
    f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)
)


@pytest.mark.parametrize(
    "declared",
    [
        "<!DOCTYPE gpx>",
        '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/never.dtd">',
        BOMB + "]>",
        '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        "<!-- harmless --><!DOCTYPE gpx>",
        "<!DOCTYPE gpx [\n<!ENTITY % a SYSTEM 'x'> %a;]>",
        "<!DOCTYPE gpx [ what stands here is not even read",
    ],
)
def test_document_type_is_refused_where_it_begins(faults, declared):
    text = GOOD.replace(HEAD, HEAD + declared).replace("<ele>2<", "<ele>&j;<")
    ((line, _, said),) = faults(text)
    assert line == 2
    assert "document type" in said


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_document_type_in_other_encodings_is_not_read_either(faults, encoding):
    text = GOOD.replace(HEAD, "<!DOCTYPE gpx>")
    ((_, _, said),) = faults(text.encode(encoding))
    assert "UTF-8" in said


@pytest.mark.parametrize(
    "encoding", ["utf-7", "cp037", "utf-16", "utf-32", "idna", "rot13", "zlib", "punycode", "unknown"]
)
def test_declared_encodings_hide_no_document_type(faults, encoding):
    head = f'<?xml version="1.0" encoding="{encoding}"?>\n<!DOCTYPE gpx [<!ENTITY j "5">]>'
    ((_, _, said),) = faults(GOOD.replace(HEAD, head).replace("<ele>2<", "<ele>&j;<"))
    assert f"names the encoding '{encoding}'" in said


def test_entity_that_is_nowhere_declared_is_a_fault(faults):
    ((line, _, said),) = faults(GOOD.replace("<ele>2<", "<ele>&j;<"))
    assert line == 6
    assert "undefined entity" in said


@pytest.mark.parametrize(
    ("content", "line", "said"),
    [
        ("", 0, "is empty"),
        ("lat,lon\n1,2\n", 1, "no XML"),
        (b"\x00\x01\x02", 0, "NUL"),
        (GOOD[:150], 5, "no XML"),
        (GOOD.replace("</gpx>", ""), 13, "no XML"),
        (GOOD.replace("<trkseg>", "<trkseg", 1), 5, "no XML"),
        (GOOD + GOOD, 13, "no XML"),
        (GOOD.replace(ROOT, "<gpx>"), 2, "without a namespace"),
        (GOOD.replace("topografix", "example"), 2, "no GPX 1.1"),
        (GOOD.replace("/1/1", "/2/0"), 2, "no GPX 1.1"),
        (GOOD.replace("trkpt", "rtept"), 0, "routes and waypoints are not read"),
        (gpx([point(0, 1, 1)]), 0, "fewer than two"),
        (GOOD.encode().replace(b"invented", b"\xff\xfe"), 2, "no XML"),
        (GOOD.replace("<ele>2", f"<ele>{'2' * 101}"), 6, "longer than 100"),
        (GOOD.replace("<ele>2", f"<ele>{'2&#50;' * 101}"), 6, "longer than 100"),
        (GOOD.replace("<ele>2</ele>", point(1)), 6, "within a track point"),
        (GOOD.replace("<trk>", "<a>" * 60 + "</a>" * 60 + "<trk>"), 3, "nested more than 50 deep"),
        (GOOD.replace("<trk>", "".join(f"<a{n}/>" for n in range(9_000)) + "<trk>"), 3, "more than 2000 names"),
        (GOOD.replace("<trk>", f"<!--{'a' * (2 * LONGEST_TAG)}--><trk>"), 3, "more than 1000000 characters"),
        (GOOD.replace("<trk>", f'<trk a="{"b" * (2 * LONGEST_TAG)}">'), 3, "more than 1000000 characters"),
    ],
    ids=range(20),
)
def test_file_that_is_no_track_is_one_fault_with_its_line(faults, content, line, said):
    ((found, _, sentence),) = faults(content)
    assert found == line
    assert said in sentence


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('lat="0.000000000" lon="0.000089832"', 'lat="999" lon="0"', "lat: '999' is no number from -90 to 90 degrees"),
        ('lat="0.000000000" lon="0.000089832"', 'lat="nan" lon="0"', "lat: 'nan' is no number"),
        ('lat="0.000000000" lon="0.000089832"', 'lat="0" lon="-180.1"', "lon: '-180.1' is no number"),
        ('lat="0.000000000" lon="0.000089832"', 'lat="1_0" lon="0"', "lat: '1_0' is no number"),
        ('lat="0.000000000" lon="0.000089832"', 'lat="٣" lon="0"', "lat: '"),
        ('lat="0.000000000" lon="0.000089832"', 'lon="0"', "lat: missing"),
        ("<ele>2<", "<ele>NaN<", "ele: 'NaN' is no number of metres"),
        ("<ele>2<", "<ele>1e999<", "ele: '1e999' is no number of metres"),
        ("<ele>2<", "<ele>2 m<", "ele: '2 m' is no number of metres"),
        ("<ele>2<", "<ele/><e>2<", "ele: '' is no number of metres"),
        ("2001-01-01T09:00:01", "yesterday", "time: 'yesterday+00:00' is no time"),
        ("2001-01-01T09:00:01", "2001-13-01T09:00:01", "is no time"),
        ("2001-01-01T09:00:01", "2001-01-01T09:00:61", "is no time"),
        ("2001-01-01T09:00:01+00:00", "2001-01-01", "is no time"),
    ],
)
def test_value_that_cannot_be_used_is_a_fault_at_its_place(faults, old, new, said):
    text = GOOD.replace(old, new).replace("<e>2</ele>", "")
    assert text != GOOD
    ((line, column, sentence),) = faults(text)
    assert (line, column > 0) == (6, True)
    assert said in sentence


def test_all_faults_come_at_once_up_to_a_number(faults):
    found = faults(gpx([point(0, "x", 0)] * 3 + [point(1, 2, 1)] * 2))
    assert [line for line, _, _ in found] == [5, 6, 7]
    found = faults(gpx([point(0, "x", 0)] * (MOST_FAULTS + 30)))
    assert len(found) == MOST_FAULTS + 1
    assert found[-1][2] == "and 30 more"


def test_more_points_than_allowed_are_refused_when_they_are_met(faults, monkeypatch):
    monkeypatch.setattr(reader, "MOST_POINTS", 10)
    ((line, _, said),) = faults(gpx([point(t, 1, t) for t in range(30)]))
    assert line == 15  # the eleventh point; nothing behind it is read
    assert "more than 10 points" in said


def test_larger_file_than_allowed_is_not_opened(tmp_path):
    path = tmp_path / "large.gpx"
    with path.open("wb") as stream:
        stream.truncate(201_000_000)  # a hole: takes no room
    with pytest.raises(TrackError, match="larger than 200 MB"):
        read_points(path)


def test_pipe_folder_and_missing_file_are_faults(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for name, said in (("pipe", "is not a file"), (".", "is not a file"), ("none", "no such file")):
        with pytest.raises(TrackError, match=said):
            read_points(tmp_path / name)
    with pytest.raises(TrackError, match="cannot be read"):
        read_points(tmp_path / "a\0b")


def test_memory_does_not_grow_with_what_is_no_point(tmp_path):
    path = tmp_path / "lap.gpx"
    path.write_text(GOOD.replace("<trk>", "<extensions>" + "<a>b</a>" * 500_000 + "</extensions><trk>"))  # 4 MB
    tracemalloc.start()
    read_points(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 1e6  # some chunks of 64 kB; a tree of these elements takes a hundred times as much


def points_or_faults(path):
    """Return how many points a file has, or how many faults."""
    try:
        points = read_points(path)
    except TrackError as error:
        return len(error.faults)
    return np.count_nonzero(np.abs(points.latitude) <= 90.0)


LEAVES = ["<trkpt", 'lat="1"', 'lon="2"', ">", "/>", "</trkpt>", "<ele>", "</ele>", "<time>", "</time>", "3", "&lt;"]
LEAVES += ["2001-01-01T00:00:00Z", "<![CDATA[", "]]>", "<!--", "-->", "<?a?>", "&#0;", "&a;", "\0", "<!DOCTYPE a>", " "]


@given(st.one_of(st.binary(max_size=300), st.lists(st.sampled_from(LEAVES), max_size=30).map(" ".join)), st.booleans())
@settings(deadline=None, max_examples=300, derandomize=True)
def test_any_bytes_are_points_or_the_one_error(tmp_path_factory, content, inside):
    raw = content if isinstance(content, bytes) else content.encode()
    path = tmp_path_factory.getbasetemp() / "any.gpx"
    path.write_bytes(GOOD.encode().replace(b"</trkseg>", raw + b"</trkseg>", 1) if inside else raw)
    assert points_or_faults(path) > 0


@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=3))
@settings(deadline=None, max_examples=300, derandomize=True)
def test_any_damage_is_points_or_the_one_error(tmp_path_factory, place, damage):
    raw = straight(length=300.0).encode()
    place %= len(raw)
    path = tmp_path_factory.getbasetemp() / "damaged.gpx"
    path.write_bytes(raw[:place] + damage + raw[place + len(damage) :])
    assert points_or_faults(path) > 0
