"""STEP files written by hand, so that tests need no modeller: tubes, alone or placed in an assembly."""

from __future__ import annotations


class StepFile:
    """An AP214 file in the making. Lengths are written as given, in the unit that the file states."""

    def __init__(self, unit: str = "mm") -> None:
        self.lines: list[str] = []
        length = {
            "mm": "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )",
            "m": "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT($,.METRE.) )",
        }
        self.app = self.add("APPLICATION_CONTEXT('automotive design')")
        if unit == "in":
            si = self.add(length["mm"])
            size = self.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
            measure = self.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),{si})")
            self.unit = self.add(f"( CONVERSION_BASED_UNIT('INCH',{measure}) LENGTH_UNIT() NAMED_UNIT({size}) )")
        else:
            self.unit = self.add(length[unit])
        angle = self.add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
        solid = self.add("( NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT() )")
        fine = self.add(
            f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),{self.unit},'distance_accuracy_value','')"
        )
        self.context = self.add(
            "( GEOMETRIC_REPRESENTATION_CONTEXT(3)"
            f" GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({fine}))"
            f" GLOBAL_UNIT_ASSIGNED_CONTEXT(({self.unit},{angle},{solid})) REPRESENTATION_CONTEXT('','') )"
        )

    def add(self, text: str) -> str:
        """One entity more; its number."""
        self.lines.append(text)
        return f"#{len(self.lines)}"

    def point(self, x: float, y: float, z: float) -> str:
        return self.add(f"CARTESIAN_POINT('',({x!r},{y!r},{z!r}))")

    def axes(self, x: float, y: float, z: float, up: str = "(0.,0.,1.)") -> str:
        at, axis, side = self.point(x, y, z), self.add(f"DIRECTION('',{up})"), self.add("DIRECTION('',(1.,0.,0.))")
        return self.add(f"AXIS2_PLACEMENT_3D('',{at},{axis},{side})")

    def tube(self, inner: float, outer: float, low: float, high: float) -> str:
        """A solid: a tube about z, or a round bar where ``inner`` is 0."""
        faces: list[str] = []
        rings: dict[tuple[float, float], str] = {}
        corners: dict[tuple[float, float], str] = {}
        radii = [r for r in (inner, outer) if r > 0]
        for r in radii:
            for z in (low, high):
                corners[r, z] = self.add(f"VERTEX_POINT('',{self.point(r, 0.0, z)})")
                circle = self.add(f"CIRCLE('',{self.axes(0.0, 0.0, z)},{r!r})")
                rings[r, z] = self.add(f"EDGE_CURVE('',{corners[r, z]},{corners[r, z]},{circle},.T.)")
        for z, up in ((low, False), (high, True)):
            bounds = []
            for r in radii:
                forward = up == (r == outer)
                edge = self.add(f"ORIENTED_EDGE('',*,*,{rings[r, z]},{'.T.' if forward else '.F.'})")
                loop = self.add(f"EDGE_LOOP('',({edge}))")
                kind = "FACE_OUTER_BOUND" if r == outer else "FACE_BOUND"
                bounds.append(self.add(f"{kind}('',{loop},.T.)"))
            plane = self.add(f"PLANE('',{self.axes(0.0, 0.0, z)})")
            faces.append(self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{plane},{'.T.' if up else '.F.'})"))
        for r in radii:
            way = self.add("DIRECTION('',(0.,0.,1.))")
            line = self.add(f"LINE('',{self.point(r, 0.0, low)},{self.add(f'VECTOR({chr(39)}{chr(39)},{way},1.)')})")
            seam = self.add(f"EDGE_CURVE('',{corners[r, low]},{corners[r, high]},{line},.T.)")
            out = r == outer
            order = [(rings[r, low], out), (seam, True), (rings[r, high], not out), (seam, False)]
            if not out:
                order = [(rings[r, low], False), (seam, True), (rings[r, high], True), (seam, False)]
            edges = [self.add(f"ORIENTED_EDGE('',*,*,{e},{'.T.' if f else '.F.'})") for e, f in order]
            loop = self.add(f"EDGE_LOOP('',({','.join(edges)}))")
            bound = self.add(f"FACE_OUTER_BOUND('',{loop},.T.)")
            wall = self.add(f"CYLINDRICAL_SURFACE('',{self.axes(0.0, 0.0, 0.0)},{r!r})")
            faces.append(self.add(f"ADVANCED_FACE('',({bound}),{wall},{'.T.' if out else '.F.'})"))
        shell = self.add(f"CLOSED_SHELL('',({','.join(faces)}))")
        return self.add(f"MANIFOLD_SOLID_BREP('',{shell})")

    def product(self, name: str, solids: list[str]) -> tuple[str, str]:
        """A product of these solids: its definition and its shape representation."""
        context = self.add(f"PRODUCT_CONTEXT('',{self.app},'mechanical')")
        product = self.add(f"PRODUCT('{name}','{name}','',({context}))")
        version = self.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        stage = self.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{self.app},'design')")
        definition = self.add(f"PRODUCT_DEFINITION('design','',{version},{stage})")
        shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
        kind = "ADVANCED_BREP_SHAPE_REPRESENTATION" if solids else "SHAPE_REPRESENTATION"
        items = ",".join([self.axes(0.0, 0.0, 0.0), *solids])
        representation = self.add(f"{kind}('',({items}),{self.context})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{representation})")
        return definition, representation

    def place(self, parent: tuple[str, str], child: tuple[str, str], shift: tuple[float, float, float]) -> None:
        """Put ``child`` into the assembly ``parent``, moved by ``shift``."""
        use = self.add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('','','',{parent[0]},{child[0]},$)")
        shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{use})")
        here, there = self.axes(0.0, 0.0, 0.0), self.axes(*shift)
        move = self.add(f"ITEM_DEFINED_TRANSFORMATION('','',{here},{there})")
        relation = self.add(
            f"( REPRESENTATION_RELATIONSHIP('','',{child[1]},{parent[1]})"
            f" REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({move}) SHAPE_REPRESENTATION_RELATIONSHIP() )"
        )
        self.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({relation},{shape})")

    def data(self) -> bytes:
        """The whole file."""
        head = (
            "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
            "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
        )
        body = "".join(f"#{k}={line};\n" for k, line in enumerate(self.lines, start=1))
        return (head + body + "ENDSEC;\nEND-ISO-10303-21;\n").encode()


def tube_step(inner: float, outer: float, width: float, unit: str = "mm") -> bytes:
    """One band about z."""
    file = StepFile(unit)
    file.product("band", [file.tube(inner, outer, -width / 2, width / 2)])
    return file.data()


def assembly_step(inner: float, outer: float, width: float) -> bytes:
    """A band with a round bar standing on it, as two parts of an assembly."""
    file = StepFile()
    whole = file.product("ring assembly", [])
    band = file.product("band", [file.tube(inner, outer, -width / 2, width / 2)])
    bar = file.product("head", [file.tube(0.0, 1.0, -1.5, 1.5)])
    file.place(whole, band, (0.0, 0.0, 0.0))
    file.place(whole, bar, (0.0, outer + 0.5, 0.0))
    return file.data()
