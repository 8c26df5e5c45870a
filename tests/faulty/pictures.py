"""Faults of stills and clips. Checks 8, 9 and 11."""

from __future__ import annotations

from tests.faulty.edits import (
    add,
    both,
    copied,
    later,
    picture_of,
    rewrite,
    runs,
    saved_anew,
    swap,
    take_away,
    ticks,
)
from tests.faulty.fault import DAY, fault
from tests.faulty.second_day import (
    CAPTURES,
    EXIF_FORM,
    EXIF_TIME,
    TYPED,
    even,
    frames,
    of_capture,
    reading,
    still,
    still_later,
)

_COUNTER = "counter bildo"
_FILM = "clip K-0001.vid"
_DEMO_CLIP = "export/clips/C033.mp4"
_DEMO_FRAMES = "export/logs/frame_times.csv"
_EXTRA = f"{CAPTURES}/K-0006/K-0006_002.jpg"
_ONE_MORE = swap(DAY, "image_last = 1\n", "image_last = 2\n")
_EXIF_ID = r"[0-9a-f]{32}"

NUMBERS = (
    fault("image-missing-first", "the report expects an image before the first",
          ("8", "fail", _COUNTER), ("1 image number", "995"),
          swap(DAY, "image_first = 996", "image_first = 995")),
    fault("image-missing-last", "the report expects images after the last",
          ("8", "fail", _COUNTER), ("2 image numbers", "2–3"),
          swap(DAY, "image_last = 1\n", "image_last = 3\n")),
    fault("still-lost", "a still is gone from the middle",
          ("8", "fail", _COUNTER), ("1 image number", "998"), take_away(still(3))),
    fault("capture-lost", "a reading and its still are gone from the middle",
          ("8", "fail", _COUNTER), ("1 image number", "998"),
          both(take_away(reading(3), still(3)), swap(DAY, "captures = 6\n", "captures = 5\n"))),
    fault("roll-over-wrong", "the counter rolls over later than declared",
          ("8", "fail", _COUNTER), ("10 image numbers", "1000–1009"),
          swap(DAY, "modulus = 1000\n", "modulus = 1010\n")),
    fault("roll-over-unknown", "nobody says where the counter starts again",
          ("8", "not determinable", _COUNTER), ("starts again is not declared",),
          both(swap(DAY, "modulus = 1000\n", ""),
               *(take_away(reading(one), still(one)) for one in (5, 6)),
               swap(DAY, "captures = 6\n", "captures = 4\n"),
               swap(DAY, "image_last = 1\n", "image_last = 999\n"))),
    fault("number-impossible", "a still bears a number that the counter can't show",
          ("8", "query", _COUNTER), ("can't show 999",),
          swap(DAY, "modulus = 1000\n", "modulus = 999\n")),
    fault("number-repeated", "two stills bear one number",
          ("8", "query", _COUNTER), ("more than once: 998",),
          copied(still(3), f"{CAPTURES}/K-0004/K-0003_998.jpg",
                 rewrite(f"{CAPTURES}/K-0004/K-0003_998.jpg", _EXIF_ID,
                         lambda found: found[0][::-1]))),
    fault("still-twice", "one still is there twice, under two numbers",
          ("8", "query", "day"), ("2 stills are byte for byte the same", "K-0006_002.jpg"),
          both(copied(still(6), _EXTRA), _ONE_MORE)),
    fault("still-copied", "a still was copied and its time changed",
          ("8", "query", "day"), ("2 stills share their unique image identifier",
                                  "K-0006_002.jpg"),
          both(copied(still(6), _EXTRA,
                      later(_EXTRA, EXIF_TIME, EXIF_FORM, 1)), _ONE_MORE)),
    fault("image-number-differs", "the log names another image than the still of the capture",
          ("8", "query", "capture 3"), ("image 997", "bear 998"),
          swap(reading(3), '"bildo": 998', '"bildo": 997')),
    fault("deletion-of-present", "a deletion note is about an image that is there",
          ("8", "query", _COUNTER), ("image numbers that are there: 998",),
          add(DAY, '\n[[deletion]]\nimage_first = 998\nimage_last = 998\nreason = "blurred"\n'
              'by = "M. Nenies"\n' + TYPED)),
)  # fmt: skip

CLIPS = (
    fault("video-frames-missing", "frames of the clip are missing",
          ("9", "fail", _FILM), ("5 frames", "20–24"),
          frames(even([*range(20), *range(25, 60)], 40))),
    fault("video-too-slow", "the clip has only four frames a second",
          ("9", "fail", _FILM), ("4 frames a second", "fewer than 5"),
          frames(even([*range(20)], 250))),
    fault("video-gap", "the times of the frames leave out most of a second",
          ("9", "query", _FILM), ("0.8 s", "every 0.04 s", "2 frame periods"),
          frames({n: n * 40 + (760 if n >= 30 else 0) for n in range(60)})),
    fault("video-times-back", "the times of the frames run backwards",
          ("9", "query", _FILM), ("backwards 1 times",),
          frames({n: n * 40 - (60 if n >= 30 else 0) for n in range(60)})),
    fault("video-number-twice", "a frame number stands in the log twice",
          ("9", "query", _FILM), ("more than once: 7",),
          frames([(min(n, n - 1 if n > 7 else n), n * 40) for n in range(60)])),
    fault("clip-too-slow", "the clip's own timing gives four frames a second",
          ("9", "fail", "clip C033.mp4"), ("4 frames a second", "fewer than 5"),
          both(take_away(_DEMO_FRAMES), ticks(_DEMO_CLIP, 24, 150)), base="demo"),
    fault("clip-gap", "the clip's own timing leaves a gap of 0.6 s",
          ("9", "query", "clip C033.mp4"), ("0.6 s", "every 0.04 s", "2 frame periods"),
          both(take_away(_DEMO_FRAMES), runs(_DEMO_CLIP, (60, 24), (1, 360), (64, 24))),
          base="demo"),
)  # fmt: skip

STRIPS = (
    fault("strip-speed", "the still shows another speed than the record",
          ("11", "fail", "capture 2"), ("95 km/h", "94 km/h"),
          of_capture("data_strip", 2, "speed_kmh = 94", "speed_kmh = 95")),
    fault("strip-range", "the still shows another range than the record",
          ("11", "fail", "capture 2"), ("105 m", "104 m"),
          of_capture("data_strip", 2, "range_m = 104.0", "range_m = 105.0")),
    fault("strip-time", "the still shows another time than the record",
          ("11", "fail", "capture 2"), ("09:31:39.3", "09:31:29.3", "10 s apart"),
          swap(DAY, "T09:31:29.3", "T09:31:39.3")),
    fault("strip-site", "the still shows another place than the record",
          ("11", "fail", "capture 2"), ("site V4", "record V3"),
          of_capture("data_strip", 2, 'site = "V3"', 'site = "V4"')),
    fault("exif-serial", "one still was taken with another camera",
          ("11", "query", "session A"), ("camera serial", "KL-9-004412, KL-9-004499"),
          swap(still(3), "KL-9-004412", "KL-9-004499")),
    fault("still-late", "a still was taken half a minute after its reading",
          ("11", "query", "capture 5"), ("31.4 s", "after its reading", "2 s are allowed"),
          still_later(5, 30)),
    fault("still-resized", "one still has another size in pixels",
          ("11", "query", "session A"), ("pixel size", "640 × 400, 800 × 500"),
          saved_anew(still(4), "JPEG", (800, 500))),
    fault("thumbnail-other", "the picture of a still is not that of the thumbnail inside it",
          ("11", "query", "capture 3"), ("image 9983 of capture 3", "at least 0.75 is expected"),
          picture_of("export/stills/C003_9983.jpg", "export/stills/C010_9990.jpg"),
          base="demo"),
    fault("still-reformatted", "one still was saved anew in another format",
          ("11", "query", "session A"), ("format", "JPEG, PNG"),
          saved_anew(still(4), "PNG", (640, 400))),
)  # fmt: skip

PICTURES = (*NUMBERS, *CLIPS, *STRIPS)
