"""A mesh reading and its measures: as plain data with SI units in the keys, and as lines for people."""

from __future__ import annotations

from typing import Any

from evenwall.files.mesh_file import MeshReading
from evenwall.files.mesh_questions import repair_sentence
from evenwall.geometry.solid import measures
from evenwall.units import from_si


def measure_as_json(reading: MeshReading) -> dict[str, Any]:
    """What `evenwall measure --json` prints."""
    m = measures(reading.surface)
    trusted = reading.closed
    return {
        "area_m2": m.area,
        "volume_m3": m.volume if trusted else None,
        "centroid_m": m.centroid.tolist() if trusted else None,
        "extents_m": m.extents.tolist(),
        "inertia_m5": m.inertia.tolist() if trusted else None,
        "area_band_m2": list(reading.area_band),
        "volume_band_m3": list(reading.volume_band) if trusted else None,
        "watertight": reading.watertight,
        "closed": reading.closed,
        "bodies": len(reading.bodies),
        "open_edges": reading.open_edges,
        "repairs": [
            {
                "name": r.name,
                "count": r.count,
                "of": r.what,
                "area_change_m2": r.area_change,
                "volume_change_m3": r.volume_change,
                "middle_m": list(r.middle),
                "span_m": r.span,
                "sentence": repair_sentence(r),
            }
            for r in reading.repairs
        ],
        "warnings": [
            *reading.warnings,
            *([reading.size_question] if reading.size_question else []),
            *(f"{q.sentence} (taken: {q.answer})" for q in reading.questions),
        ],
        "questions": [
            {
                "name": q.name,
                "sentence": q.sentence,
                "options": list(q.options),
                "default": q.default,
                "answer": q.answer,
            }
            for q in reading.questions
        ],
        "openings": [
            {"role": o.role, "span_m": o.span, "area_m2": o.area, "middle_m": o.middle.tolist()}
            for o in reading.openings
        ],
        "body_list": [
            {"role": b.role, "volume_m3": b.volume, "area_m2": b.area, "kept": b.kept} for b in reading.bodies
        ],
        "rebuilt": None
        if reading.anew is None
        else {
            "why": reading.anew.why,
            "spacing_m": reading.anew.spacing,
            "lost_p95_m": reading.anew.lost_p95,
            "closed_over_m2": reading.anew.closed_over,
        },
        "format": reading.kind,
        "unit": reading.unit,
        "unit_from": reading.unit_from,
        "metres_per_number": reading.metres_per_number,
        "faces": len(reading.surface.faces),
    }


def measure_lines(reading: MeshReading) -> list[str]:
    """What `evenwall measure` prints."""
    m = measures(reading.surface)
    hollow = f"volume {from_si(m.volume, 'mL'):.1f} mL" if reading.closed else "no volume: it is still open"
    lines = [
        f"area {from_si(m.area, 'cm2'):.1f} cm2, {hollow}",
        "size " + " x ".join(f"{from_si(x, 'mm'):.1f}" for x in m.extents.tolist()) + " mm",
    ]
    lines += [f"- {line}" for line in (*map(repair_sentence, reading.repairs), *reading.warnings)]
    lines += [f"? {reading.size_question}"] if reading.size_question else []
    return lines + [f"? {q.sentence} (taken: {q.answer})" for q in reading.questions]
