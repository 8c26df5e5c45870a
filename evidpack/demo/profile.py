"""The unit's profile: which file of the export is what, and how its columns map."""

from __future__ import annotations

from typing import Final

from evidpack.demo import places

_STAMP: Final = 'format = "%d/%m/%Y %H:%M:%S.%f"'

PROFILE: Final = rf"""
# The same for every day that this meter and its recorder export.

[[clock]]
name = "meter"
zone = "{places.ZONE}"
resolution_s = 0.01

[[clock]]
name = "camera"
zone = "{places.ZONE}"
resolution_s = 0.01

[[clock]]
name = "video"
zone = "{places.ZONE}"
resolution_s = 0.001

[[counter]]
name = "image"
modulus = 10000
first = 1

[captures]
join = "identifier"

[[items]]
glob = "stills/*.jpg"
kind = "still"
clock = "camera"
counter = "image"
name_pattern = '(?P<capture>C\d{{3}})_(?P<image_number>\d{{4}})\.jpg'

[[items]]
glob = "clips/*.mp4"
kind = "clip"
clock = "video"
name_pattern = '(?P<capture>C\d{{3}})\.mp4'

[[items]]
glob = "certificates/*.pdf"
kind = "certificate"

[[items]]
glob = "reports/day_report_*.pdf"
kind = "report"

[[items]]
glob = "reports/*.pdf"
kind = "document"

[[log]]
glob = "logs/readings.csv"
record = "reading"
format = "csv"
clock = "meter"
[log.fields]
capture = "Ref"
session = "Session"
meter = "Meter"
time = {{ columns = ["Date", "Time"], {_STAMP} }}
opinion_time = {{ columns = ["Date", "Opinion"], {_STAMP} }}
speed = {{ column = "Speed mph", unit = "mph" }}
range = {{ column = "Range m", unit = "m" }}
limit = {{ column = "Limit mph", unit = "mph" }}
direction = {{ column = "Direction", map = {{ TOWARDS = "approaching", AWAY = "receding" }} }}
pulse_times_s = {{ column = "Pulse times ms", separator = ";", unit = "ms" }}
pulse_ranges_m = {{ column = "Pulse ranges m", separator = ";", unit = "m" }}
plate = "Plate"
image_number = "Image"
discarded = {{ column = "Discarded", map = {{ yes = "true", no = "false" }} }}
remark = "Remark"

[[log]]
glob = "logs/device_tests.csv"
record = "device_test"
format = "csv"
clock = "meter"
[log.fields]
session = "Session"
meter = "Meter"
time = {{ columns = ["Date", "Time"], {_STAMP} }}
result = {{ column = "Outcome", map = {{ OK = "pass", FAULT = "fail" }} }}
measured = {{ column = "Measured m", unit = "m" }}
surveyed = {{ column = "Surveyed m", unit = "m" }}
shown_speed = {{ column = "Shown mph", unit = "mph" }}
operator = "Operator"
[log.fields.test]
column = "Test"
[log.fields.test.map]
"Self test" = "self"
"Display" = "display"
"Sight alignment H" = "alignment-horizontal"
"Sight alignment V" = "alignment-vertical"
"Fixed distance" = "distance"
"Zero velocity" = "zero"

[[log]]
glob = "logs/clock_checks.csv"
record = "clock_check"
format = "csv"
[log.fields]
clock = "Clock"
time = {{ column = "Shown", format = "rfc3339" }}
reference_time = {{ column = "Reference time", format = "rfc3339" }}
reference = "Reference"
uncertainty_s = {{ column = "Uncertainty s", unit = "s" }}
resynchronised = {{ column = "Set right", map = {{ yes = "true", no = "false" }} }}

[[log]]
glob = "logs/data_strips.csv"
record = "data_strip"
format = "csv"
clock = "meter"
[log.fields]
still = "Still"
speed = {{ column = "Speed mph", unit = "mph" }}
range = {{ column = "Range m", unit = "m" }}
time = {{ columns = ["Date", "Time"], {_STAMP} }}
site = "Site"

[[log]]
glob = "logs/reviews.csv"
record = "review"
format = "csv"
[log.fields]
capture = "Ref"
reviewer = "Reviewer"
time = {{ column = "Looked at", format = "rfc3339" }}
vehicles = "Vehicles in beam"
on_target = {{ column = "On target", map = {{ yes = "true", no = "false" }} }}
same_vehicle_as = "Same vehicle as"
remark = "Remark"

[[log]]
glob = "logs/frame_times.csv"
record = "frame_time"
format = "csv"
clock = "video"
[log.fields]
clip = "Clip"
frame = "Frame"
time = {{ column = "Time", format = "rfc3339" }}
"""
