"""The forms of a building, with the claims of its height, and of a zone."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from wtforms import BooleanField, FieldList, Form, FormField, StringField, TextAreaField

from portfolio.domain.heights import LEFT_OUT_OF_STOREYS, LEFT_OUT_SOURCE, HeightClaim
from portfolio.reference.loader import EVACUATION, SPRINKLERS, load_reference
from portfolio.services.editing_buildings import BuildingFacts
from portfolio.services.editing_zones import ZoneFacts
from portfolio.sheets.lists import jurisdictions
from portfolio.web.form_fields import (
    DayField,
    MeasureField,
    WholeField,
    choice,
    offered,
    told,
    told_ref,
)
from portfolio.web.labels import WORKS
from portfolio.web.page_form import PageForm

MOST_HEIGHTS = 12
EMPTY_HEIGHTS = 2


class HeightForm(Form):
    """One word on the height of the top storey's floor."""

    metres = MeasureField("Height (m)", unit="m")
    tolerance_m = MeasureField("Tolerance (± m)", unit="m")
    method = StringField("How it was found", **told(200))
    on = DayField("Date")
    source = StringField("Source", **told(300))

    @property
    def is_empty(self) -> bool:
        return not any((field.raw_data or [field.data])[0] for field in self)

    def claim(self) -> HeightClaim:
        return HeightClaim(
            self.metres.data or 0.0,
            self.method.data or "",
            self.tolerance_m.data,
            self.on.data,
            self.source.data or "",
        )


class BuildingForm(PageForm):
    """What a person may say of a building."""

    owner = choice("Owner", [], empty=None)
    ref = StringField("Reference", **told_ref(required="Give the building a reference."))
    name = StringField("Name", **told(200))
    address = StringField("Address", **told(300))
    jurisdiction = StringField(
        "Jurisdiction", description="Whose law applies: England, Scotland…", **told(60)
    )
    use = choice("Use", [])
    storeys = WholeField(
        "Storeys above ground",
        least=1,
        most=300,
        description=f"Not counted: {LEFT_OUT_OF_STOREYS} ({LEFT_OUT_SOURCE}).",
    )
    homes = WholeField("Homes")
    people = WholeField("People", description="A count only; estimated from homes when empty.")
    evacuation = choice("Evacuation", EVACUATION.items())
    sprinklers = choice("Sprinklers", SPRINKLERS.items())
    note = TextAreaField("Note", **told(5000))
    heights = FieldList(FormField(HeightForm), "Heights", max_entries=MOST_HEIGHTS)

    @classmethod
    def filled(cls, facts: BuildingFacts | None, revision: int = 0, **more: Any) -> BuildingForm:
        """The form for a building, or for a new one."""
        values: dict[str, Any] = {"revision": str(revision)}
        if facts is not None:
            values |= {key: value for key, value in asdict(facts).items() if key != "heights"}
            values["heights"] = [asdict(claim) for claim in facts.heights]
        form = cls(data=values, **more)
        uses = ((key, use.label) for key, use in load_reference().uses.items())
        form.use.choices = offered([("", "unknown"), *uses])
        form.offer_heights()
        return form

    def offer_heights(self) -> None:
        """Keep some empty rows for further claims."""
        free = sum(entry.form.is_empty for entry in self.heights)
        while free < EMPTY_HEIGHTS and len(self.heights.entries) < MOST_HEIGHTS:
            self.heights.append_entry()
            free += 1

    def offer_owners(self, owners: list[tuple[int, str]]) -> None:
        """The organisations to choose from; without a choice to make, none is asked."""
        if not owners:
            del self.owner
        else:
            self.owner.choices = offered((str(key), name) for key, name in owners)

    def validate(self, extra_validators: Any = None) -> bool:
        """Besides the fields: a row that says something of a height gives the height."""
        is_fine = bool(super().validate(extra_validators))
        for entry in self.heights:
            if not entry.form.is_empty and entry.form.metres.data is None:
                metres = entry.form.metres
                if not metres.errors:
                    metres.errors = ["Give the height, or empty the row."]
                is_fine = False
        return is_fine

    def facts(self) -> BuildingFacts:
        """What the form says, once it is valid."""
        told_texts = ("ref", "name", "address", "jurisdiction", "use", "evacuation", "sprinklers")
        claims = (entry.form.claim() for entry in self.heights if not entry.form.is_empty)
        return BuildingFacts(
            **{key: self[key].data or "" for key in (*told_texts, "note")},
            storeys=self.storeys.data,
            homes=self.homes.data,
            people=self.people.data,
            heights=tuple(claims),
        )

    @property
    def jurisdictions(self) -> tuple[str, ...]:
        """The jurisdictions that the reference data speaks of, to pick from."""
        return jurisdictions(load_reference())


class ZoneForm(PageForm):
    """What a person may say of a zone."""

    ref = StringField("Reference", **told_ref(required="Give the zone a reference."))
    description = StringField("Description", **told(300))
    face = StringField("Face", description="North, street side, courtyard…", **told(60))
    from_storey = WholeField("Lowest storey", least=-20, most=300, description="Ground is 0.")
    to_storey = WholeField("Highest storey", least=-20, most=300, description="Ground is 0.")
    area_m2 = MeasureField("Area (m²)", unit="m2")
    is_attachment = BooleanField("A balcony, canopy or sign attached to the wall")
    work = choice("Kind of work", WORKS.items(), empty="nobody has said: taken as an existing wall")
    work_counted_on = DayField(
        "Application counted on",
        description="Of new work: the day on which its application or notice to building control "
        "counted. By that day's rule it goes.",
    )

    @classmethod
    def filled(cls, facts: ZoneFacts | None, revision: int = 0, **more: Any) -> ZoneForm:
        """The form for a zone, or for a new one."""
        values = {"revision": str(revision)} | (asdict(facts) if facts else {})
        return cls(data=values, **more)

    def facts(self) -> ZoneFacts:
        """What the form says, once it is valid."""
        return ZoneFacts(
            self.ref.data or "",
            self.description.data or "",
            self.face.data or "",
            self.from_storey.data,
            self.to_storey.data,
            self.area_m2.data,
            bool(self.is_attachment.data),
            self.work.data or "",
            self.work_counted_on.data,
        )
