"""Satellite tracks beside a log: NMEA 0183 sentences and GPX."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import LogError, UnknownLayoutError
from ridelog.ingest.nmea import KNOT_M_PER_S, checksum, degrees, sentence_fields
from ridelog.ingest.open_table import open_table
from ridelog.ingest.read import read_log
from ridelog.ingest.track import distances_m

# Sentences as printed, with their checksums, in the documentation of open packages: the first three
# in the README of the Elixir package nmea, the fourth in the manual of the R package em38.
PUBLISHED = (
    "$GPGGA,092750.000,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,*76",
    "$GPRMC,092750.000,A,5321.6802,N,00630.3372,W,0.02,31.66,280511,,,A*43",
    "$GPGSA,A,3,10,07,05,02,29,04,08,13,,,,,1.72,1.03,1.38*0A",
    "$GPGGA,015808.00,2726.53758,S,15126.05255,E,1,08,1.0,365.1,M,39.5,M,,*79",
)


@pytest.mark.parametrize("sentence", PUBLISHED, ids=lambda sentence: sentence[-2:])
def test_published_checksums(sentence):
    fields = sentence_fields(sentence)
    assert fields is not None
    assert sentence_fields(sentence.replace("$GP", "$GL")) is None


def test_a_sentence_cut_in_the_middle_fails_its_checksum():
    """The same source prints the fourth sentence with its beginning lost."""
    assert sentence_fields(PUBLISHED[3].replace("GPGGA,0158", "GP58")) is None


def test_degrees_and_minutes():
    """Pairs of the README of homegrown-nmea; the third by hand, 53 + 21.6802 / 60."""
    assert degrees("4740.36415", "N") == pytest.approx(47.672736, abs=5e-7)
    assert degrees("12225.35953", "W") == pytest.approx(-122.422659, abs=5e-7)
    assert degrees("5321.6802", "N") == pytest.approx(53.361337, abs=5e-7)


def test_a_minute_of_latitude_is_a_nautical_mile():
    """The mile's origin; on the mean sphere the minute is 1853.2 m, on the ellipsoid 1843-1862."""
    assert distances_m(np.array([50.0, 50.0 + 1 / 60]), np.zeros(2))[0] == pytest.approx(1852, 1e-3)
    east = distances_m(np.array([60.0, 60.0]), np.array([0.0, 1 / 60]))[0]
    assert east == pytest.approx(1852 / 2, rel=1e-3)  # cos 60 deg


def rmc(second: int, knots: float | str, valid: str = "A") -> str:
    text = f"GPRMC,1000{second:02d}.000,{valid},5321.6802,N,00630.3372,W,{knots},0.0,020526,,,A"
    return f"${text}*{checksum(text):02X}\r\n"


def folder_with(tmp_path: Path, name: str, text: str) -> Path:
    """A log of ten seconds at 10 Hz with dates and times, and a track beside it."""
    rows = "".join(f"2026-05-02T10:00:{i / 10:06.3f}Z,1.0\n" for i in range(100))
    (tmp_path / "drive.csv").write_text("time,cabin_g\n" + rows)
    (tmp_path / name).write_text(text)
    return tmp_path / "drive.csv"


def logger(name: str) -> Logger:
    return Logger(channels={"speed": ChannelMapping(column="speed", file=name)})


def test_sentences_beside_a_log_give_its_speed(tmp_path):
    damaged = rmc(4, 40).replace("A,5321", "A,5322")
    text = rmc(0, 0) + rmc(1, 10) + rmc(2, 20, "V") + rmc(3, 30) + damaged + rmc(5, 50)
    log = folder_with(tmp_path, "drive.nmea", text)
    raw = read_log(log, logger("{stem}.nmea"))
    speed = raw.channels["speed"]
    # straight between the fixes of seconds 0, 1, 3 and 5: ten knots a second throughout
    np.testing.assert_allclose(speed[:51], KNOT_M_PER_S * np.arange(51), atol=1e-9)
    assert np.isnan(speed[51:]).all()
    assert raw.source.remarks == ("drive.nmea: line 5 left out: wrong checksum, or cut short",)
    assert raw.columns["speed"] == "drive.nmea: speed"


def test_speed_follows_from_positions_where_no_sentence_has_it(tmp_path):
    def gga(second: int) -> str:
        latitude = f"{5000 + 0.006 * second:09.4f}"  # minutes of latitude a second: 11.1 m/s
        text = f"GPGGA,1000{second:02d}.00,{latitude},N,00000.0000,E,1,8,1,0,M,0,M,,"
        return f"${text}*{checksum(text):02X}\n"

    log = folder_with(tmp_path, "drive.nmea", "".join(gga(second) for second in range(11)))
    speed = read_log(log, logger("drive.nmea")).channels["speed"]
    np.testing.assert_allclose(speed, 0.006 * 1852, rtol=2e-3)


def test_sentences_without_a_fix_are_refused(tmp_path):
    log = folder_with(tmp_path, "drive.nmea", rmc(0, "", "V") * 3)
    with pytest.raises(UnknownLayoutError) as error:
        read_log(log, logger("drive.nmea"))
    assert str(error.value) == ("drive.nmea: none of its NMEA sentences holds a fix; record again")


GPX = """<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:e="http://example.org/e">
<trk><trkseg>{points}</trkseg></trk></gpx>
"""


def gpx_point(second: int, inside: str = "") -> str:
    latitude = 50 + 0.0001 * second
    stamp = f"2026-05-02T10:00:{second:02d}Z"
    return f'<trkpt lat="{latitude:.6f}" lon="8.0"><time>{stamp}</time>{inside}</trkpt>'


def test_a_gpx_tracks_own_speed(tmp_path):
    points = "".join(
        gpx_point(second, f"<extensions><e:speed>{second / 2}</e:speed></extensions>")
        for second in range(11)
    )
    log = folder_with(tmp_path, "drive.gpx", GPX.format(points=points))
    speed = read_log(log, logger("{stem}.gpx")).channels["speed"]
    np.testing.assert_allclose(speed, np.arange(100) / 20, atol=1e-9)


def test_a_gpx_track_without_speed(tmp_path):
    points = "".join(gpx_point(second) for second in range(11))
    log = folder_with(tmp_path, "drive.gpx", GPX.format(points=points))
    speed = read_log(log, logger("drive.gpx")).channels["speed"]
    np.testing.assert_allclose(speed, 0.006 * 1852, rtol=2e-3)  # 0.0001 deg = 0.006 minutes


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GPX.format(points='<trkpt lat="1" lon="2"/>'), "no point with a time"),
        (GPX.format(points="<trkpt>"), "is no well-formed GPX"),
        ("<!DOCTYPE x [<!ENTITY a 'b'>]>" + GPX.format(points="")[39:], "declares entities"),
    ],
)
def test_a_bad_gpx_is_refused_plainly(tmp_path, text, words):
    log = folder_with(tmp_path, "drive.gpx", text)
    with pytest.raises(LogError, match=words):
        read_log(log, logger("drive.gpx"))


def test_times_of_day_meet_dates_over_midnight(tmp_path):
    rows = "".join(f"2026-05-02T23:59:{50 + i}Z,1\n" for i in range(10))
    (tmp_path / "drive.csv").write_text("time,cabin_g\n" + rows)
    (tmp_path / "gps.csv").write_text(
        "time,v\n" + "".join(f"23:59:{50 + i},{i}\n" for i in range(10))
    )
    mapping = ChannelMapping(column="v", unit="m/s", file="gps.csv")
    speed = read_log(tmp_path / "drive.csv", Logger(channels={"speed": mapping})).channels["speed"]
    np.testing.assert_allclose(speed, range(10))


def test_a_track_alone_opens_as_a_table(tmp_path):
    path = tmp_path / "drive.nmea"
    path.write_text(rmc(0, 1) + rmc(1, 2))
    with open_table(path) as opened:
        assert opened.format.names == ("time", "speed", "latitude", "longitude")
        numbers = opened.read([2, 3], []).numbers
    np.testing.assert_allclose(numbers[2], 53.361337, atol=5e-7)
    np.testing.assert_allclose(numbers[3], -6.505620, atol=5e-7)
