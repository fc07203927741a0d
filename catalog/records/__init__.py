"""What the catalogue holds, as frozen records that the rest of the program passes around.

None means "not measured" or "not stated", never zero. Attributes that carry a unit end in it; times are
UTC text, "2025-05-12T08:30:00Z", dates "2025-05-12". A record names other things by their text ids;
integer ids only tell rows of one catalogue apart.
"""

from catalog.records.origins import BatchInfo, Correction, Embargo, Extra, Hidden, RawFile, Source, Sourced
from catalog.records.publications import Article, Dispute, Image, Site, Withdrawal
from catalog.records.results import (
    BridgeValue,
    Ceiling,
    Feature,
    Heat,
    LongRun,
    Part,
    Power,
    Price,
    Run,
    Station,
    TestedPlace,
    Thinned,
)
from catalog.records.things import (
    CONDITIONS,
    Client,
    ClientDriver,
    Device,
    Epoch,
    Firmware,
    House,
    Port,
    Radio,
    Role,
    Session,
    Settings,
    SpotReading,
    Unit,
    Workload,
)

__all__ = [
    "CONDITIONS",
    "Article",
    "BatchInfo",
    "BridgeValue",
    "Ceiling",
    "Client",
    "ClientDriver",
    "Correction",
    "Device",
    "Dispute",
    "Embargo",
    "Epoch",
    "Extra",
    "Feature",
    "Firmware",
    "Heat",
    "Hidden",
    "House",
    "Image",
    "LongRun",
    "Part",
    "Port",
    "Power",
    "Price",
    "Radio",
    "RawFile",
    "Role",
    "Run",
    "Session",
    "Settings",
    "Site",
    "Source",
    "Sourced",
    "SpotReading",
    "Station",
    "TestedPlace",
    "Thinned",
    "Unit",
    "Withdrawal",
    "Workload",
]
