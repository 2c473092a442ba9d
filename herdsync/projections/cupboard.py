"""The medicines on the shelf: what is left of each, its lots and expiry, and courses under way.

Stock is worked out, never typed twice: what was counted, with what came and went since. Holds no
product, rate or withdrawal of its own. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from fractions import Fraction

from msgspec import Struct

from herdsync.kinds.ids import text_id
from herdsync.kinds.medicine import MEDICINES
from herdsync.merge.records import Record
from herdsync.projections import acts, moments
from herdsync.projections.amounts import figure, told
from herdsync.projections.courses import NextDose, next_doses
from herdsync.projections.herd import Herd
from herdsync.reports import CourseLine, MedicineBoard, MedicineLine
from herdsync.trade.dosing import CAUTION
from herdsync.trade.units import plain

# What a product's sheet should say before a dose of it is worked out or its hold counted.
_WANTED = {
    "milk_h": "the milk withdrawal",
    "meat_d": "the meat withdrawal",
    "said_by": "who said so: label or veterinarian",
    "expiry": "the expiry",
}

# A course that nobody began or went on with for so long asks for no stock: common practice, no
# published source.
COURSE_WITHIN_DAYS = 60


class Stock(Struct, frozen=True):
    """What is left of a product in mL (None where nobody counted or bought any), and what is needed.

    ``needed_ml`` is the next course: the doses that running courses still ask for, else one course.
    """

    left_ml: Fraction | None
    needed_ml: Fraction | None
    says: str

    @property
    def short(self) -> bool:
        """Whether less is left than the next course takes."""
        return (
            self.left_ml is not None
            and self.needed_ml is not None
            and (self.left_ml < self.needed_ml)
        )


def medicine_board(herd: Herd) -> MedicineBoard:
    """All products, and all courses under way with the next dose first."""
    running = running_courses(herd)
    products = [medicine_line(herd, one) for one in herd.records.of_kind("product")]
    return MedicineBoard(
        sorted(products, key=lambda line: (line.name.casefold(), line.id)), running, CAUTION
    )


def running_courses(herd: Herd) -> list[CourseLine]:
    """Every course under way on an animal of the herd, the next dose to fall due first."""
    found = [
        (coming.at, _course_line(herd, goat.id, goat.name, coming))
        for goat in herd.every
        if goat.gone is None
        for coming in next_doses(goat)
    ]
    return [line for _, line in sorted(found, key=lambda one: (one[0], one[1].name))]


def medicine_line(herd: Herd, product: Record) -> MedicineLine:
    """One product."""
    stock = stock_of(herd, product)
    names = herd.look.names
    expiries = _expiries(herd, product)
    today = herd.look.today.isoformat()
    newest = max(expiries.values(), default="")
    whole = product.value("course_doses")
    warnings = [] if not stock.short else [f"{names.of(product)}: {stock.says}."]
    if newest and newest < today:
        warnings.append(f"{names.of(product)} expired on {newest}: do not use it.")
    return MedicineLine(
        id=text_id(product.id),
        name=names.of(product),
        substance=str(product.value("substance", "")),
        use=str(product.value("use", "")),
        family=str(product.value("family", "")),
        route=str(product.value("route", "")),
        strength_mg_per_ml=figure(told(product, "strength_mg_per_ml", "mg/mL"), 4),
        interval_h=figure(told(product, "interval_h", "h")),
        course_doses=whole if isinstance(whole, int) else None,
        milk_h=figure(told(product, "milk_h", "h")),
        meat_d=figure(told(product, "meat_d", "d")),
        counted_from=str(product.value("counted_from", "")),
        said_by=str(product.value("said_by", "")),
        expiry=newest,
        expired=bool(newest) and newest < today,
        lots=sorted(lots_of(herd, product)),
        stock_ml=figure(stock.left_ml),
        needed_ml=figure(stock.needed_ml),
        stock_says=stock.says,
        gaps=[words for field, words in _WANTED.items() if _lacks(product, field, expiries)],
        warnings=warnings,
    )


def stock_of(herd: Herd, product: Record) -> Stock:
    """What is left of a product: counted or bought, less doses and what was thrown away."""
    counted = told(product, "stock_ml", "mL")
    since = _counted_at(product) if counted is not None else datetime.min.replace(tzinfo=UTC)
    bought, unknown = _moved(herd, product, ("purchase",), since)
    if counted is None and not bought:
        return Stock(None, None, "what is left is not known: record what was bought or counted")
    used, untold = _moved(herd, product, (*MEDICINES, "disposal"), since)
    needed = _needed(herd, product)
    left = (counted or Fraction(0)) + bought - used
    words = f"{plain(left)} mL left ({_parts(counted, bought, used)})"
    if unknown + untold:
        words += f", {unknown + untold} records tell no amount"
    if left < 0:
        words += ": more was used than came, count the bottles"
    elif needed is not None and left < needed:
        words += f": under the {plain(needed)} mL of the next course"
    return Stock(left, needed, words)


def lots_of(herd: Herd, product: Record) -> set[str]:
    """Every lot of a product that is on record on the shelf."""
    records = [product, *herd.records.naming(product.id, "purchase")]
    return {str(lot) for record in records for lot in record.values("lot")}


def expiry_of(herd: Herd, product: Record, lot: str) -> str:
    """The last day a lot of a product may be used; of an unknown lot the earliest on the shelf."""
    expiries = _expiries(herd, product)
    return expiries.get(lot) or min(expiries.values(), default="")


def _expiries(herd: Herd, product: Record) -> dict[str, str]:
    """The expiry of each lot, the lot "" where none is told."""
    found: dict[str, str] = {}
    for record in (product, *herd.records.naming(product.id, "purchase")):
        expiry = record.value("expiry")
        lot = str(record.value("lot", ""))
        if expiry:
            found[lot] = min(str(expiry), found.get(lot, str(expiry)))
    return found


def _lacks(product: Record, field: str, expiries: dict[str, str]) -> bool:
    if field == "expiry":
        return not expiries
    if field in ("milk_h", "meat_d") and product.value(field[:4] + "_never"):
        return False
    return product.value(field) is None


def _counted_at(product: Record) -> datetime:
    """When the newest count of what is left was written down."""
    standing = product.registers[product.register_of("stock_ml")].standing
    clock = max(claim.author.clock for claim in standing)
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=clock)


def _moved(
    herd: Herd, product: Record, kinds: tuple[str, ...], since: datetime
) -> tuple[Fraction, int]:
    """The mL that records of some kinds tell since an instant, and how many tell none."""
    total, untold = Fraction(0), 0
    for kind in kinds:
        for record in herd.records.naming(product.id, kind):
            at = acts.last_instant(record, herd.look.zone)
            if at is None or not since < at or at > herd.look.moment + timedelta(days=1):
                continue
            amount_ml = told(record, "amount_ml", "mL")
            total += amount_ml or 0
            untold += amount_ml is None
    return total, untold


def _parts(counted: Fraction | None, bought: Fraction, used: Fraction) -> str:
    said = [] if counted is None else [f"{plain(counted)} counted"]
    said += [f"{plain(bought)} bought"] if bought else []
    return ", ".join([*said, f"{plain(used)} used or thrown away"])


def _needed(herd: Herd, product: Record) -> Fraction | None:
    running = [
        (one, amount_ml)
        for one in _coming(herd, product)
        if (amount_ml := _amount_of(one)) is not None
    ]
    if running:
        return sum((_doses_left(one) * amount_ml for one, amount_ml in running), Fraction(0))
    doses = product.value("course_doses")
    given = herd.records.naming(product.id, "dose")
    amounts = [told(dose, "amount_ml", "mL") for dose in given]
    known = [one for one in amounts if one is not None]
    return known[-1] * doses if known and isinstance(doses, int) else None


def _coming(herd: Herd, product: Record) -> Iterator[NextDose]:
    """The next doses of a product on the animals that had or were planned any of it of late."""
    since = herd.look.moment - timedelta(days=COURSE_WITHIN_DAYS)
    animals = {
        herd.records.canonical(animal)
        for kind in ("dose", "course")
        for record in herd.records.naming(product.id, kind)
        if (at := acts.last_instant(record, herd.look.zone)) is not None and at >= since
        if isinstance(animal := record.value("animal"), bytes)
    }
    for id in sorted(animals):
        goat = herd.goat(id)
        if goat is not None and goat.gone is None:
            yield from (
                one
                for one in next_doses(goat)
                if one.product is not None and one.product.id == product.id
            )


def _doses_left(coming: NextDose) -> int:
    return 1 if coming.doses is None else coming.doses - coming.number + 1


def _amount_of(coming: NextDose) -> Fraction | None:
    if coming.given and (last := told(coming.given[-1], "amount_ml", "mL")) is not None:
        return last
    return told(coming.course, "amount_ml", "mL")


def _course_line(herd: Herd, animal: bytes, name: str, coming: NextDose) -> CourseLine:
    zone = herd.look.zone
    product = coming.product
    named = [*coming.given[-1:], *([coming.course] if coming.course is not None else [])]
    return CourseLine(
        animal=text_id(animal),
        name=name,
        product=text_id(product.id) if product is not None else "",
        product_name=herd.look.names.of(product) if product is not None else "",
        course=text_id(coming.course.id) if coming.course is not None else "",
        number=coming.number,
        doses=coming.doses,
        last="" if coming.last is None else moments.text(coming.last, zone),
        due=moments.text(coming.at, zone),
        early=moments.text(coming.early, zone),
        late=moments.text(coming.late, zone),
        state=_state(coming, herd.look.moment),
        records=sorted(text_id(record.id) for record in named),
    )


def _state(coming: NextDose, moment: datetime) -> str:
    if moment < coming.early:
        return "ahead"
    return "late" if moment > coming.late else "due"
