"""A small batch that holds one of everything the format knows: every table, every form of log, answers, a map."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping

from PIL import Image


def _picture() -> bytes:
    packed = io.BytesIO()
    Image.new("RGB", (40, 30), (90, 120, 150)).save(packed, "PNG")
    return packed.getvalue()


BATCH_TOML = """\
format = 1
id = "whole"
title = "A bench with one of everything"
timezone = "Europe/Berlin"
licence = "CC-BY-4.0"
ignore_columns = ["mood"]

[site]
title = "Bench – Tests"

[[device]]
id = "tessarik-shale-2"
maker = "Tessarik"
model = "Shale 2"
kind = "ceiling access point"
aliases = ["Shale-2 EU"]
amendment = "802.11ax"
revision = "1.0"
  [[device.radio]]
  band = "5"
  streams = 4
  max_width_mhz = 160
  eirp_dbm = 26.0
  [[device.port]]
  name = "LAN"
  speed_mbit_s = 2500
  power = "in"
  power_class = 4
  [[device.unit]]
  id = "A"
  origin = "loaned"
  by = "maker"
  received = 2025-05-01
  returned = 2025-08-01
  [[device.firmware]]
  version = "7.10"
  released = 2025-04-02
  public = true
  [device.embargo]
  until = "2025-06-10T09:00"
  timezone = "America/New_York"
  covers = "existence"

[[settings]]
id = "quiet"
title = "Quiet mode"
power = "low"
links = ["5"]

[[client]]
id = "wrenlet-u2"
name = "Wrenlet U2"
amendment = "802.11ax"
  [[client.radio]]
  band = "5"
  streams = 2
  max_width_mhz = 160
  [[client.driver]]
  version = "3.10"
  [[client.ceiling]]
  band = "5"
  width_mhz = 80
  direction = "down"
  run = "whole/runs/2"

[[client]]
id = "wrenlet-u3"
name = "Wrenlet U3"
amendment = "802.11ax"
  [[client.radio]]
  band = "5"
  streams = 2
  max_width_mhz = 160

[[house]]
id = "house-a"
name = "Test house, two floors"
reference_device = "tessarik-shale-2"

[[session]]
id = "day-1"
house = "house-a"
date = 2025-05-12
note = "windows closed"

[[role]]
id = "arena"
kind = "game"
packet_ms = 50
target_ms = 80
target_share = 0.99
good_ms = 30
good_share = 0.9

[[role]]
id = "backup"
kind = "upload"
file_mib = 64
at_once = 2
target_ms = 20000
target_share = 0.9

[[workload]]
id = "evening"
version = 1
title = "An evening"
duration_s = 600
seats = [["arena", "backup"], ["arena"]]

[[workload]]
id = "office"
version = 1
title = "Two people"
duration_s = 600
  [[workload.role]]
  id = "pages"
  kind = "pages"
  target_ms = 1000
  target_share = 0.95
  resources = 27
  resource_kib = 44
  pause_s = [5, 20]
  [[workload.role]]
  id = "film"
  kind = "stream"
  rate_mbit_s = 25
  segment_s = 4
  start_buffer_s = 8

[method]
attenuation_sigma_db = 1.5
session_spread = 0.04
house_spread = {mbit_s = 20}
windows = {"5" = {near = [50, 60], middle = [60, 75], far = [75, 90]}}

[[article]]
id = "shale-2-review"
title = "Shale 2: quiet and quick"
published = "2025-06-10T15:00:00+02:00"
file = "articles/shale-2.md"
devices = ["tessarik-shale-2"]

[[image]]
file = "images/inside.png"
device = "tessarik-shale-2"
kind = "teardown"
alt = "Main board with four antenna leads"
credit = "Bench desk"

[defaults.runs]
device = "Shale 2"
firmware = "7.10"
client = "wrenlet-u2"
session = "day-1"
band = "5"
width_mhz = 80
direction = "down"

[defaults.stations]
mix = "mix-1"
workload = "office"
when = "2025-05-12 14:00:00"
device = "tessarik-shale-2"
firmware = "7.10"
session = "day-1"
band = "5"
planned_s = 600

[defaults.bridges]
old_client = "wrenlet-u2"
new_client = "wrenlet-u3"
device = "tessarik-shale-2"
band = "5"
width_mhz = 80
direction = "down"
spot = "S1"
"""

TABLES: Mapping[str, str] = {
    "spots.csv": "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm,reference_source,obstacles\n"
    + "".join(
        f"house-a,S{spot},5,2025-01-01,20,{-38 - 10 * spot - rep % 3},comb source,one wall\n"
        for spot in (1, 2)
        for rep in range(5)
    ),
    "runs.csv": "when,spot,level_dbm,repeat,throughput (Mbit/s),outcome,log,mood,security\n"
    "2025-05-12 10:00,S1,-48,1,812.5,finished,,good,SAE\n"
    "2025-05-12 10:02,S1,-49,2,801,,,,SAE\n"
    "2025-05-12 10:04,S1,-48,3,0.8 Gbit/s,finished,,,SAE\n"
    "2025-05-12 10:20,S2,-58,1,,,logs/plain.csv,,SAE\n"
    "2025-05-12 10:22,S2,-58,2,,,bench:logs/bench.json,,SAE\n"
    "2025-05-12 10:24,S2,-59,3,DNF,,,hot,SAE\n",
    "stations.csv": "client,role,spot,planned_requests,outcome,ended_at_s,log\n"
    "wrenlet-u2,pages,S1,,did not finish,300,logs/pages.csv\n"
    "wrenlet-u3,film,S2,150,finished,,lines:logs/film.jsonl\n",
    "longruns.csv": "when,device,firmware,client,session,band,width_mhz,direction,spot,log,outcome\n"
    "2025-05-12 20:00,tessarik-shale-2,7.10,wrenlet-u2,day-1,5,80,down,S1,logs/night.csv,finished\n",
    "features.csv": "device,feature,step,firmware,date,licence,method,evidence\n"
    "tessarik-shale-2,guest network,works,7.10,2025-05-12,,joined as a guest,bench note 3\n",
    "heat.csv": "device,face,material,reading_c,ambient_c,load,minutes,emissivity,mount,session\n"
    "tessarik-shale-2,top,plastic,48.5,23.5,all radios loaded,60,0.95,ceiling,day-1\n",
    "power.csv": "device,state,watts,side,source_class,cable_m,settings\n"
    "tessarik-shale-2,all radios loaded,19.5,supply,4,2,\ntessarik-shale-2,all radios loaded,12.5,supply,4,2,quiet\n",
    "parts.csv": "device,revision,block,marking,count,read,photo\n"
    "tessarik-shale-2,1.0,main processor,Ombrel OX-771,1,read,images/inside.png\n",
    "prices.csv": "device,date,amount,currency,region,tax_included,condition,licence_per_year\n"
    "tessarik-shale-2,2025-05-01,199.00,EUR,DE,yes,new,39\n",
    "bridges.csv": "when,side,repeat,throughput_mbit_s\n"
    + "".join(
        f"2025-05-12 {16 + (side == 'new')}:0{rep},{side},{rep},{600 + 7 * rep}\n"
        for side in ("old", "new")
        for rep in (1, 2, 3)
    ),
    "withdrawals.csv": "what,id,from,reason\nunit,tessarik-shale-2/A,2025-09-01,the maker asked for it back\n",
    "disputes.csv": "device,date,by,claim,state,evidence\ntessarik-shale-2,2025-07-01,maker,too slow,open,mail 4\n",
}

OTHERS: Mapping[str, str | bytes] = {
    "answers.toml": '[[answer]]\ntable = "runs"\ncolumn = "security"\ntyped = "SAE"\nmeans = "WPA3"\nby = "bench"\n',
    "maps/bench.toml": 'kind = "throughput"\nformat = "json"\nrows = "$.samples[*]"\nskip_first_s = 1\n'
    '[column.t_s]\nfrom = "$.begin"\nunit = "ms"\n[column.rate]\nfrom = "$.rx_kbit"\nunit = "kbit/s"\n'
    'missing = ["-1"]\n[column.seconds]\nconstant = 1\n',
    "maps/lines.toml": 'kind = "requests"\nformat = "jsonl"\n[column.t_s]\nfrom = "$.t"\n[column.ms]\nfrom = "$.took"\n'
    '[[where]]\ncolumn = "$.who"\nis = "film"\n',
    "logs/plain.csv": "t_s,mbit_s\n" + "".join(f"{t},{400 + t % 7}\n" for t in range(30)),
    "logs/bench.json": json.dumps({"samples": [{"begin": 1000 * t, "rx_kbit": 400_000 + t} for t in range(20)]}),
    "logs/pages.csv": "t_s,ms,outcome,bytes\n"
    + "".join(f"{t},{200 + 13 * t % 90},{'finished' if t % 9 else 'failed'},{1000 * t}\n" for t in range(0, 300, 6)),
    "logs/film.jsonl": "".join(json.dumps({"t": 4 * t, "took": 900 + t, "who": "film"}) + "\n" for t in range(150)),
    "logs/night.csv": "t_s,seconds,bytes\n" + "".join(f"{60 * t},60,{60 * 10**6 * (4 + t % 3)}\n" for t in range(120)),
    "articles/shale-2.md": "Quiet and quick.\n",
    "images/inside.png": _picture(),
}


def whole_batch() -> dict[str, bytes]:
    """Every file of the batch by its path."""
    files = {"batch.toml": BATCH_TOML, **TABLES, **OTHERS}
    return {path: text.encode() if isinstance(text, str) else text for path, text in files.items()}
