"""The words of the public animal data exchange standard: ICAR-ADE JSON v1.3 (ICAR, Apache-2.0).

Resources, what each requires, and the enumerations used here, as the published schemas of v1.3.2 (June
2023) have them; with the words of this program that mean the same, both ways. Must not know the farm.
"""

from __future__ import annotations

from collections.abc import Mapping

ANIMAL = "icarAnimalCoreResource"
WEIGHT = "icarWeightEventResource"
TREATMENT = "icarTreatmentEventResource"
WITHDRAWAL = "icarWithdrawalEventResource"
SERVICE = "icarReproInseminationEventResource"
HEAT = "icarReproHeatEventResource"
PREGNANCY = "icarReproPregnancyCheckEventResource"
KIDDING = "icarReproParturitionEventResource"
ABORTION = "icarReproAbortionEventResource"
ARRIVAL = "icarMovementArrivalEventResource"
DEPARTURE = "icarMovementDepartureEventResource"
DEATH = "icarMovementDeathEventResource"
TEST_DAY = "icarTestDayResultEventResource"
DRY_OFF = "icarMilkingDryOffEventResource"
LACTATION = "icarLactationResource"

# What a resource requires beside resourceType; every event requires the animal.
REQUIRED: Mapping[str, tuple[str, ...]] = {
    ANIMAL: ("identifier", "specie", "gender"),
    WEIGHT: ("animal",),
    TREATMENT: ("animal",),
    WITHDRAWAL: ("animal", "eventDateTime", "productType"),
    SERVICE: ("animal", "inseminationType"),
    HEAT: ("animal",),
    PREGNANCY: ("animal",),
    KIDDING: ("animal",),
    ABORTION: ("animal",),
    ARRIVAL: ("animal",),
    DEPARTURE: ("animal",),
    DEATH: ("animal",),
    TEST_DAY: ("animal",),
    DRY_OFF: ("animal",),
    LACTATION: ("id", "animal"),
}
IDENTIFIER = ("id", "scheme")
META = ("source", "modified")
PARENT = ("parentOf", "gender", "identifier")

SPECIE = "Goat"
GENDER = ("Female", "FemaleNeuter", "Male", "MaleCryptorchid", "MaleNeuter", "Unknown")
STATUS = ("Alive", "Dead", "OffFarm", "Unknown")
PURPOSE = ("Meat", "Milk", "Wool")
WEIGHT_UNITS = {"KGM": "kg", "GRM": "g", "LBR": "lb", "MGM": "mg", "ONZ": "oz"}
DOSE_UNITS = {"MLT": "mL", "LTR": "L"}
WEIGHT_METHOD = {
    "scale": "LoadCell", "girth-tape": "Girth", "girth-and-length": "Girth", "by-eye": "Assessed",
}  # fmt: skip
WEIGHT_METHODS = (
    "LoadCell", "Girth", "Assessed", "WalkOver", "Predicted", "Imaged", "FrontEndCorrelated",
    "GroupAverage",
)  # fmt: skip
SERVICE_TYPE = {"hand": "NaturalService", "pen": "RunWithBull", "ai": "Insemination"}
SERVICE_TYPES = ("NaturalService", "RunWithBull", "Insemination", "Implantation")
CHECK_METHOD = {
    "scan": "Echography", "felt": "Palpation", "blood": "Blood", "milk": "Milk", "no-return": "Visual",
}  # fmt: skip
CHECK_METHODS = ("Echography", "Palpation", "Blood", "Milk", "Visual", "Other")
CHECK_RESULT = {"open": "Empty", "unsure": "Unknown", "bred": "Pregnant", "lost": "Empty"}
CHECK_RESULTS = ("Empty", "Pregnant", "Multiple", "Unknown")
EASE = {
    "unassisted": "EasyUnassisted", "some-help": "EasyAssisted", "hard": "DifficultExtraAssistance",
    "vet": "DifficultVeterinaryCare", "surgery": "CaesareanOrSurgery",
}  # fmt: skip
ARRIVAL_REASON = {
    "bought": "Purchase", "lent": "StudService", "returned": "StudServiceReturn", "visiting": "Agistment",
}  # fmt: skip
ARRIVAL_REASONS = (
    "Purchase", "InternalTransfer", "Imported", "StudService", "StudServiceReturn", "Slaughter",
    "Agistment", "AgistmentReturn", "Show", "ShowReturn", "Sale", "SaleReturn", "Other",
)  # fmt: skip
DEPARTURE_KIND = {
    "sold": "Sale", "given": "Other", "lent": "StudService", "culled": "Slaughter",
    "returned": "AgistmentReturn",
}  # fmt: skip
DEPARTURE_KINDS = (
    "InternalTransfer", "Export", "Slaughter", "Newborn", "StudService", "StudServiceReturn",
    "Agistment", "AgistmentReturn", "Show", "ShowReturn", "Sale", "SaleReturn", "Other",
)  # fmt: skip
# What family a medicine is of; the schemas of v1.4 require it.
FAMILY = "Veterinary Supplies"
DEATH_METHOD = {"accident": "Accident", "put-down": "Culled", "predator": "Other"}
DEATH_METHODS = ("Perished", "Slaughter", "Culled", "Theft", "Lost", "Accident", "Other")
PRODUCT = {"milk": "Milk", "meat": "Meat"}
PRODUCTS = ("Meat", "Milk", "Eggs", "Honey", "Velvet", "Fibre", "Other")
# The field of a dose that holds each product, and of how many hours one of its count is.
HELD = {"Milk": ("milk_h", 1), "Meat": ("meat_d", 24)}
LACTATION_TYPES = ("Normal", "100Days", "200Days", "305Days", "365Days")
# Milk characteristics: code, unit; a value is text. Cells count in thousands a millilitre.
CHARACTERISTIC = {
    "fat_percent": ("FAT", "VP"), "protein_percent": ("PROTEIN", "VP"),
    "lactose_percent": ("LAC", "VP"),
}  # fmt: skip
CELLS = ("SCC", "NCL")
# Schemes whose ids are the 15 digits of ISO 11784.
CHIP_SCHEMES = frozenset({"eu.animalId", "std.iso.11785", "usa.ain"})


# Words of v1.4, by those of v1.3 that say the same.
_LATER = {"Euthanized": "Culled"}


def ours(words: Mapping[str, str], told: object, otherwise: str = "") -> str:
    """The word here that the standard's word means; the first one where several do."""
    told = _LATER.get(str(told), told)
    return next((own for own, word in words.items() if word == told), otherwise)
