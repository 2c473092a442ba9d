"""Acts in plain words for whoever reads a paper: no names of fields, no moments as programs write them.

Nothing an act holds is dropped: what has no phrase of its own stands after the name of its field. Must
not know which paper says it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Choice, Flag, On, Value
from herdsync.merge.payloads import STANDS
from herdsync.merge.records import Record
from herdsync.projections import moments
from herdsync.projections.conflict_lines import summary
from herdsync.projections.look import Look
from herdsync.projections.voices import label, shown
from herdsync.projections.worms import counted_eggs
from herdsync.trade.units import plain

# A field's phrase, by itself or of one kind alone ("kind.field").
_PHRASES = {
    "amount_g": "{}", "amount_ml": "{}", "because": "because {}", "born_alive": "{} born alive",
    "cause": "{}", "born_dead": "{} born dead", "cells_per_ml": "{} cells per mL", "course": "in a course",
    "disease": "{}", "ease": "{}", "finding": "{}", "how": "{}", "kids": "kids: {}",
    "laboratory": "by {}", "light": "in {}", "meat_d": "meat held {}", "method": "{}",
    "milk_h": "milk held {}", "note": "{}", "product": "{}", "result": "{}", "route": "{}",
    "said_by": "on the word of {}", "sampled": "{}", "stage": "{}", "temperature_c": "{}",
    "text": "{}", "to": "to {}", "weight_kg": "{}", "what": "{}",
    "condition-score.score": "{} of 5", "eyelid-score.score": "{} of 5",
    "course.doses": "doses planned: {}", "course.interval_h": "every {}",
    "dose.because": "reason: {}", "course.because": "reason: {}",
    "mating.buck": "by {}", "weighing.how": "by {}",
}  # fmt: skip
_CHOICES = {
    "by-mouth": "by mouth", "under-skin": "under the skin", "in-muscle": "into the muscle",
    "in-vein": "into the vein", "on-skin": "on the skin", "in-udder": "into the udder",
    "in-eye": "into the eye", "girth-and-length": "girth and length", "by-eye": "eye",
    "re-read": "read again", "test-read": "punch read on card", "ai": "artificial insemination",
}  # fmt: skip
_CHOICES_OF = {
    ("mating", "hand"): "hand mating", ("mating", "pen"): "run in a pen",
    ("egg-count", "before"): "before treatment", ("egg-count", "after"): "after treatment",
    ("egg-count", "routine"): "", ("egg-count", "control"): "untreated, for comparison",
}  # fmt: skip
# The diseases a farm is asked about, as they are written out.
DISEASES = {"Johnes": "Johne's"}
# What eggs per gram are worked out from: the figure says it all.
_CHAMBER = frozenset({"eggs", "sample_g", "total_ml", "fluid_ml", "counted_ml", "factor"})


def act_words(record: Record, look: Look) -> str:
    """What an act holds, in a few words, without whom and when; a disputed part says so."""
    kind = CATALOGUE.get(record.kind)
    if kind is None:
        return summary(record, look)
    left_out = {kind.subject, kind.on, "of", "mating"}
    told = []
    if record.kind == "egg-count" and not isinstance(counted_eggs(record), str):
        left_out |= _CHAMBER
        told.append(_eggs(record))
    # Fields a newer program wrote stand after those this one knows.
    further = sorted(set(record.field_names()) - set(kind.fields) - {STANDS})
    told += [
        _phrase(record, name, look)
        for name in (*kind.fields, *further)
        if name not in left_out and record.value(name) not in (None, [])
    ]
    return ", ".join(one for one in told if one)


def field_words(record: Record, field: str, look: Look) -> str:
    """One field of a record as a paper says it; empty where it is not told."""
    value = record.value(field)
    if value in (None, []):
        return ""
    return _value(record.kind, field, value, look) + _doubt(record, field)


def day_words(told: str, zone: ZoneInfo) -> str:
    """A stored time as a day, or as the month it is told as."""
    return moments.first_day(told, zone).isoformat() if moments.exact(told) else told


def _phrase(record: Record, field: str, look: Look) -> str:
    spec = CATALOGUE[record.kind].fields.get(field)
    doubt = _doubt(record, field)
    if spec is None:
        return f"{field.replace('_', ' ')} {shown(record.kind, field, record.value(field), look)}{doubt}"
    if isinstance(spec.form, Flag):
        name = label(record.kind, field)
        return (name if record.value(field) else f"not {name}") + doubt
    words = _value(record.kind, field, record.value(field), look)
    phrase = _PHRASES.get(f"{record.kind}.{field}", _PHRASES.get(field))
    if phrase is None:
        phrase = f"{label(record.kind, field)} {{}}"
    return phrase.replace("{}", words) + doubt if words else ""


def _value(kind: str, field: str, value: Any, look: Look) -> str:
    spec = CATALOGUE[kind].fields[field]
    if isinstance(spec.form, On) and isinstance(value, str):
        return day_words(value, look.zone)
    if isinstance(spec.form, Choice) and not spec.many:
        return _chosen(kind, spec.form, value)
    words = spec.show(value, look.names)
    return DISEASES.get(words, words).removesuffix(" pt")


def _chosen(kind: str, form: Choice, value: Value) -> str:
    """A word of the list in plain letters; a keeper's own word as it is."""
    told = str(value)
    if told not in form.words:
        return told
    return _CHOICES_OF.get((kind, told), _CHOICES.get(told, told.replace("-", " ")))


def _doubt(record: Record, field: str) -> str:
    return " (disputed)" if record.disputed(field) else ""


def _eggs(record: Record) -> str:
    counted = counted_eggs(record)
    assert not isinstance(counted, str), "asked of a count that can be told"
    doubt = " (disputed)" if any(record.disputed(name) for name in _told(record)) else ""
    if not counted.eggs_seen:
        return f"fewer than {plain(counted.detection_limit_epg)} eggs per gram{doubt}"
    return f"{plain(counted.eggs_per_gram)} eggs per gram{doubt}"


def _told(record: Record) -> Iterator[str]:
    return (name for name in _CHAMBER if record.value(name) is not None)
