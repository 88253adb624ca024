"""The walls of the demo: invented build-ups, from the inside out, with invented identities.

A product is called "panel type K-3" and the like, so that nobody takes it for one on the market.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

Cells = dict[str, str]

COLUMN_OF = {
    "fire_class": "class",
    "mm": "thickness_mm",
    "spacing": "spacing_mm",
    "core": "core_category",
    "mj": "calorific_value_mj_kg",
    "joint": "joint",
    "gap": "joint_width_mm",
    "product": "product",
    "note": "layer_note",
}


def layer(role: str, material: str = "", **cells: object) -> Cells:
    """One layer as the cells of its row."""
    found = {COLUMN_OF[name]: str(value) for name, value in cells.items()}
    return {"role": role, "material": material} | found


@dataclass(frozen=True)
class Wall:
    """A build-up: its family, what it is fixed to, and its layers from the inside out."""

    family: str
    substrate: str
    layers: tuple[Cells, ...]

    def changed(self, role: str, **cells: object) -> Wall:
        """The same wall with other cells in the layers of one role."""
        new = layer(role, **cells)
        new.pop("material")
        if "material" in cells:
            raise ValueError("a wall of another material is another wall")
        layers = tuple(old | new if old["role"] == role else old for old in self.layers)
        return replace(self, layers=layers)

    def without(self, role: str) -> Wall:
        """The same wall without the layers of one role."""
        return replace(self, layers=tuple(old for old in self.layers if old["role"] != role))


# Layers that recur.
BLOCK = layer("frame", "masonry-block", mm=140, product="block type B-1")
CONCRETE = layer("frame", "concrete", mm=180, product="panel type Q-1")
STUDS = layer("frame", "light-steel", mm=150, product="frame type S-2")
PLASTERBOARD = layer(
    "lining", "gypsum-plasterboard", fire_class="A2-s1,d0", mm=12.5, product="board type P-1"
)
PLASTER = layer("lining", "plaster", fire_class="A1", mm=13, product="plaster type P-4")
GYPSUM = layer(
    "sheathing", "glass-faced-gypsum", fire_class="A2-s1,d0", mm=12.5, product="board type G-2"
)
CEMENT = layer(
    "sheathing", "cement-particle-board", fire_class="A2-s1,d0", mm=12, product="board type C-7"
)
BREATHER = layer("membrane", "breather-glass", fire_class="A2-s1,d0", product="membrane type N-1")
WOOL = layer("insulation", "stone-wool", fire_class="A1", mm=150, product="slab type M-2")
GLASS_WOOL = layer("insulation", "glass-wool", fire_class="A1", mm=140, product="slab type M-6")
PIR = layer("insulation", "pir-foam", fire_class="C-s2,d0", mm=100, product="board type F-1")
PHENOLIC = layer(
    "insulation", "phenolic-foam", fire_class="B-s1,d0", mm=90, product="board type F-4"
)
EPS = layer("insulation", "eps", fire_class="E-d2", mm=110, product="board type E-1")
XPS = layer("insulation", "xps", fire_class="E-d2", mm=50, product="board type E-3")
NO_INSULATION = layer("insulation", "none")
CAVITY = layer("cavity", "ventilated", mm=50)
OPEN_STATE = layer(
    "barrier-horizontal", "open-state-intumescent", spacing=3000, product="barrier type H-4"
)
VERTICAL = layer("barrier-vertical", "full-fill-mineral", spacing=6000, product="barrier type V-2")
BARRIERS = (OPEN_STATE, VERTICAL)
NO_BARRIERS = (layer("barrier-horizontal", "none"), layer("barrier-vertical", "none"))
RAILS = layer("support", "aluminium-rails", product="rail type R-1")
STEEL_RAILS = layer("support", "steel-rails", product="rail type R-3")
FIXINGS = layer("support", "mechanical-fixings", product="fixing type X-2")
TIES = layer("support", "stainless-rails", product="tie type X-5")
COATING = layer("finish", "polyester-coating", product="coating type C-1")
PVDF = layer("finish", "pvdf-coating", product="coating type C-3")
UNCOATED = layer("finish", "none")
SILICONE = layer("finish", "silicone-render-finish", product="finish type W-1")

ON_BLOCK = (PLASTERBOARD, BLOCK)
ON_STUDS = (PLASTERBOARD, STUDS, GYPSUM, BREATHER)
ON_STUDS_CEMENT = (PLASTERBOARD, STUDS, CEMENT, BREATHER)


def panel(core: str, mj: float, fire_class: str, product: str) -> Cells:
    """A metal composite panel with 10 mm open joints."""
    return layer(
        "facing",
        "metal-composite-panel",
        fire_class=fire_class,
        mm=4,
        core=core,
        mj=mj,
        joint="open",
        gap=10,
        product=product,
    )


def facing(material: str, fire_class: str, mm: float, product: str, **cells: object) -> Cells:
    """Any other facing, with 8 mm open joints unless said otherwise."""
    joints: dict[str, object] = {"joint": "open", "gap": 8}
    return layer(
        "facing",
        material,
        **({"fire_class": fire_class, "mm": mm} | joints | cells | {"product": product}),
    )


PANEL_PE = panel("3", 44.1, "D-s2,d0", "panel type K-1")
PANEL_FR = panel("2", 12.8, "B-s1,d0", "panel type K-3")
PANEL_MINERAL = panel("1", 2.4, "A2-s1,d0", "panel type K-5")
LAMINATE_FR = facing("high-pressure-laminate", "B-s1,d0", 8, "laminate type L-2")
LAMINATE = facing("high-pressure-laminate", "D-s2,d0", 8, "laminate type L-1")
FIBRE_CEMENT = facing("fibre-cement", "A2-s1,d0", 8, "board type J-2")
TERRACOTTA = facing("terracotta", "A1", 30, "tile type T-3", joint="baffled", gap=6)
ALUMINIUM = facing("solid-aluminium", "A1", 3, "sheet type A-1", gap=12)
HONEYCOMB = facing("aluminium-honeycomb", "A2-s1,d0", 12, "panel type A-4", gap=12)
ZINC_FR = facing("zinc-composite-panel", "B-s1,d0", 4, "panel type Z-2", core="2", mj=13.9)
TIMBER = facing("timber", "D-s2,d0", 22, "boards type D-1")
RENDER = facing(
    "thin-render", "A2-s1,d0", 6, "render type W-2", joint="closed", gap="", note="glass mesh"
)
SLIPS = facing("brick-slip", "A1", 20, "slip type Y-1", joint="closed", gap="")
BRICK = facing("clay-brick", "A1", 103, "brick type Y-4", joint="closed", gap="")
GLASS = facing("glass", "A1", 8, "pane type O-1", joint="closed", gap="")
SANDWICH = facing("sandwich-panel-steel", "B-s2,d0", 100, "panel type U-2", joint="closed", gap="")


def rainscreen(base: tuple[Cells, ...], substrate: str, *outer: Cells) -> Wall:
    """A ventilated rainscreen with barriers: `outer` is insulation, rails, facing, finish."""
    insulation, *rest = outer
    return Wall("ventilated-rainscreen", substrate, (*base, insulation, CAVITY, *BARRIERS, *rest))


def unbarred(wall: Wall) -> Wall:
    """The same wall with its barriers known to be missing."""
    bare = wall.without("barrier-horizontal").without("barrier-vertical")
    return replace(bare, layers=(*bare.layers, *NO_BARRIERS))


def render_wall(*outer: Cells) -> Wall:
    return Wall(
        "rendered-insulation", "masonry", (PLASTER, BLOCK, *outer, FIXINGS, RENDER, SILICONE)
    )


def brick_wall(*within: Cells) -> Wall:
    """Blockwork, something in the cavity, and a brick outer leaf."""
    layers = (PLASTER, BLOCK, *within, layer("cavity", "drained", mm=50), TIES, BRICK, UNCOATED)
    return Wall("masonry-outer-leaf", "masonry", layers)


def infill(face: Cells, within: Cells) -> Wall:
    """A panel in a window frame: facing and what is behind it, nothing else."""
    return Wall("other", "other", (within, face))


def balcony(face: Cells) -> Wall:
    """A balcony or a canopy: nothing insulated behind the facing."""
    rails = layer("support", "steel-rails")
    return Wall("other", "other", (NO_INSULATION, rails, face))


MGO = layer("sheathing", "magnesium-oxide-board", fire_class="A1", mm=9, product="board type G-9")
EPS_BARRIERS = layer(
    "barrier-horizontal", "full-fill-mineral", spacing=2700, product="barrier type H-7"
)

PANEL_FR_WOOL = rainscreen(ON_BLOCK, "masonry", WOOL, RAILS, PANEL_FR, PVDF)
PANEL_MINERAL_WOOL = rainscreen(ON_STUDS, "steel-frame", WOOL, RAILS, PANEL_MINERAL, PVDF)
TERRACOTTA_WOOL = rainscreen(ON_STUDS_CEMENT, "steel-frame", WOOL, RAILS, TERRACOTTA, UNCOATED)
ALUMINIUM_WOOL = rainscreen(ON_BLOCK, "masonry", WOOL, RAILS, ALUMINIUM, COATING)
FIBRE_CEMENT_GLASS_WOOL = rainscreen(
    ON_STUDS_CEMENT, "steel-frame", GLASS_WOOL, STEEL_RAILS, FIBRE_CEMENT, UNCOATED
)
FIBRE_CEMENT_PIR = rainscreen(ON_STUDS, "steel-frame", PIR, STEEL_RAILS, FIBRE_CEMENT, UNCOATED)
FIBRE_CEMENT_PIR_BOARD = Wall(
    "ventilated-rainscreen",
    "steel-frame",
    (*ON_STUDS, PIR, MGO, CAVITY, *BARRIERS, STEEL_RAILS, FIBRE_CEMENT, UNCOATED),
)
LAMINATE_FR_WOOL = rainscreen(ON_STUDS, "steel-frame", WOOL, RAILS, LAMINATE_FR, UNCOATED)
RENDER_WOOL = render_wall(WOOL)
RENDER_EPS = render_wall(EPS)
SLIP_WOOL = Wall(
    "brick-slip",
    "steel-frame",
    (
        *ON_STUDS_CEMENT,
        WOOL,
        layer("support", "adhesive", product="mortar type X-7"),
        SLIPS,
        UNCOATED,
    ),
)
GLASS_SPANDREL = Wall(
    "other",
    "steel-frame",
    (
        PLASTERBOARD,
        STUDS,
        WOOL,
        layer("cavity", "closed", mm=40),
        *BARRIERS,
        RAILS,
        GLASS,
        UNCOATED,
    ),
)
SANDWICH_PIR = Wall(
    "sandwich-panel",
    "steel-frame",
    (layer("frame", "structural-steel", mm=203, product="frame type S-5"), PIR, FIXINGS, SANDWICH),
)

WALLS: dict[str, Wall] = {
    # Walls like those of a passing test.
    "panel-fr-wool": PANEL_FR_WOOL,
    "panel-mineral-wool": PANEL_MINERAL_WOOL,
    "terracotta-wool": TERRACOTTA_WOOL,
    "aluminium-wool": ALUMINIUM_WOOL,
    "fibre-cement-glass-wool": FIBRE_CEMENT_GLASS_WOOL,
    "fibre-cement-pir-board": FIBRE_CEMENT_PIR_BOARD,
    "laminate-fr-wool": LAMINATE_FR_WOOL,
    "render-wool": RENDER_WOOL,
    "render-eps-barriers": replace(RENDER_EPS, layers=(*RENDER_EPS.layers, EPS_BARRIERS)),
    "slip-wool": SLIP_WOOL,
    "glass-spandrel": GLASS_SPANDREL,
    "sandwich-pir": SANDWICH_PIR,
    # The same with a difference that an engineer may judge.
    "panel-fr-wool-75": PANEL_FR_WOOL.changed("cavity", mm=75),
    "panel-mineral-wool-bare": PANEL_MINERAL_WOOL.without("sheathing"),
    "panel-mineral-wool-80": PANEL_MINERAL_WOOL.changed("cavity", mm=80),
    "glass-spandrel-60": GLASS_SPANDREL.changed("cavity", mm=60),
    "laminate-fr-wool-block": rainscreen(ON_BLOCK, "masonry", WOOL, RAILS, LAMINATE_FR, UNCOATED),
    "terracotta-wool-100": TERRACOTTA_WOOL.changed("insulation", mm=100),
    "aluminium-wool-200": ALUMINIUM_WOOL.changed("insulation", mm=200),
    "render-wool-200": RENDER_WOOL.changed("insulation", mm=200),
    "slip-wool-other-board": SLIP_WOOL.changed("sheathing", mm=18, product="board type C-9"),
    # Walls like those of a failing test.
    "laminate-fr-wool-120": LAMINATE_FR_WOOL.changed("cavity", mm=120),
    "panel-pe-pir": rainscreen(ON_BLOCK, "masonry", PIR, RAILS, PANEL_PE, COATING),
    "panel-pe-wool": rainscreen(ON_BLOCK, "masonry", WOOL, RAILS, PANEL_PE, COATING),
    "panel-fr-pir": rainscreen(ON_BLOCK, "masonry", PIR, RAILS, PANEL_FR, PVDF),
    "panel-fr-phenolic": rainscreen(ON_STUDS, "steel-frame", PHENOLIC, RAILS, PANEL_FR, PVDF),
    "fibre-cement-pir": FIBRE_CEMENT_PIR,
    "fibre-cement-phenolic": rainscreen(
        ON_STUDS_CEMENT, "steel-frame", PHENOLIC, STEEL_RAILS, FIBRE_CEMENT, UNCOATED
    ),
    "laminate-fr-pir": rainscreen(ON_STUDS, "steel-frame", PIR, RAILS, LAMINATE_FR, UNCOATED),
    "laminate-phenolic": rainscreen(ON_STUDS, "steel-frame", PHENOLIC, RAILS, LAMINATE, UNCOATED),
    "honeycomb-wool": rainscreen(ON_BLOCK, "masonry", WOOL, RAILS, HONEYCOMB, COATING),
    "render-eps": replace(RENDER_EPS, layers=(*RENDER_EPS.layers, *NO_BARRIERS)),
    "timber-wool": rainscreen(
        ON_BLOCK, "masonry", WOOL, layer("support", "timber-battens"), TIMBER, UNCOATED
    ),
    "zinc-fr-pir": rainscreen(ON_STUDS, "steel-frame", PIR, RAILS, ZINC_FR, UNCOATED),
    # Walls that nobody here has tested.
    "panel-mineral-pir": unbarred(rainscreen(ON_STUDS, "steel-frame", PIR, RAILS, PANEL_MINERAL)),
    "panel-pe-eps": rainscreen(ON_BLOCK, "masonry", EPS, RAILS, PANEL_PE, COATING),
    "panel-fr-xps": rainscreen(ON_BLOCK, "masonry", XPS, RAILS, PANEL_FR, COATING),
    "terracotta-phenolic": rainscreen(
        ON_STUDS, "steel-frame", PHENOLIC, RAILS, TERRACOTTA, UNCOATED
    ),
    "brick-pir": brick_wall(PIR),
    "brick-glass-wool": brick_wall(GLASS_WOOL),
    "brick-eps": brick_wall(EPS),
    "stone-phenolic": rainscreen(
        ON_BLOCK,
        "masonry",
        PHENOLIC,
        STEEL_RAILS,
        facing("natural-stone", "A1", 30, "stone type O-6"),
    ),
    "concrete-eps": Wall(
        "other",
        "masonry",
        (
            PLASTER,
            CONCRETE,
            EPS,
            facing("concrete-panel", "A1", 80, "panel type Q-2", joint="closed", gap=""),
        ),
    ),
    "infill-upvc": infill(layer("facing", "upvc-panel", mm=28, product="panel type I-1"), XPS),
    "infill-grp": infill(layer("facing", "glass-reinforced-plastic", mm=24), EPS),
    "infill-glass-pir": infill(GLASS, PIR),
    "balcony-timber": balcony(TIMBER),
    "balcony-wpc": balcony(layer("facing", "wood-plastic-composite", mm=25)),
    "balcony-aluminium": balcony(layer("facing", "solid-aluminium", fire_class="A1", mm=3)),
    "balcony-panel-pe": balcony(PANEL_PE),
    "balcony-panel-fr": balcony(PANEL_FR),
}
