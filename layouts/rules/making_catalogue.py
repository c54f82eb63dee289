"""The checks of making: cutting, printing, tolerances; what each asks, its limit, why, its source."""

from __future__ import annotations

from layouts.rules.rule import PRACTICE, Rule

MAKING_RULES: tuple[Rule, ...] = (
    Rule(
        "make.cutter",
        "Does a cutter pass everywhere in each pocket?",
        "fault: a way is narrower than any cutter that may cut it; channels and tank are cut with none smaller than"
        " the file's cutter",
        "What the cutter does not reach stays standing.",
        "geometry",
    ),
    Rule(
        "make.radius",
        "Does the cutter get round every inner corner?",
        "fault: an inner radius is under the cutter's; caution: under 1.3 times it, deeper than a tenth of the "
        "cutter; note: under a quarter of the depth",
        "The cutter leaves material standing; at its own radius it chatters. Outer corners and round ends of slots "
        "are none of these.",
        "milling guides: inner radius of 1.3 tool radii, depth up to 4 radii, "
        "https://neptunelabs.us/cnc-machined-parts",
    ),
    Rule(
        "make.reach",
        "Do the cutters reach the floors, and through the sheets round the parts?",
        "caution: deeper than 4 diameters of the largest cutter that leaves nothing, or of that which frees a part; "
        "fault: deeper than 6, or than the reach that the file gives it; no cutter at hand reaches through a sheet "
        "that a part is cut out of",
        "A long, thin cutter bends, chatters and breaks; a short one's holder touches.",
        "milling guides: depth to diameter 4 recommended, 6 possible, "
        "https://fenvaprecision.com/zh/post-cnc-dfm-basics",
    ),
    Rule(
        "make.floor",
        "Do floors stand being milled, under pockets and between pockets of two faces?",
        "caution: thinner than the material is milled to; fault: under 1 mm of plastic, 0.5 mm of metal",
        "A thin floor gives way under the cutter, chatters and breaks through.",
        "the materials table; 1 and 0.5 mm: https://www.zekes3d.com/basic-design-guide-for-cnc-milling/",
    ),
    Rule(
        "make.room",
        "Does the panel fit the machine?",
        "fault: a side is longer than the machine's travel, or a sheet thicker; milled, caution: the travel takes no "
        "cutter that reaches through the sheet round the outline, or not the longest drill over the sheet, 2 mm above",
        "It cannot be made on it.",
        "the file's room; 2 mm: common practice, no source",
    ),
    Rule(
        "make.upright",
        "Does the panel stand under the spindle for the bores of its edges?",
        "caution: standing panel, longest drill and 40 mm of chuck are higher than the machine's travel; nothing "
        "where edges are drilled on a drill press",
        "An edge is drilled with the panel on end; most machines are too low for that.",
        "geometry, the file's room; 40 mm: common practice, no source",
    ),
    Rule(
        "make.stock",
        "Does the sheet leave room to cut the panel out of it, and does it go on the machine?",
        "note: less round the panel than the outline's cutter and 3 mm, or the sheet is larger than the machine's "
        "travel",
        "Without stock around it the outline cannot be cut in one go; a sheet that is too large is sawn first.",
        PRACTICE,
    ),
    Rule(
        "make.drill",
        "Is every bore one that an ordinary drill makes?",
        "caution: deeper than 4 diameters; fault: deeper than 10",
        "Chips jam in a deep bore, the drill wanders and breaks.",
        "milling guides: depth to diameter 4 best, 10 at most, https://neptunelabs.us/cnc-machined-parts",
    ),
    Rule(
        "make.tip",
        "Have the points of the drills room behind their bores?",
        "caution: the cone of 118 degrees that goes on from a bore's end leaves less than the least wall to a face "
        "or to another feature, where the flat end leaves it",
        "Drawn flat, a bore has its wall; drilled, the point takes 0.3 diameters of it, or breaks through.",
        "point of a twist drill: diameter / 2 / tan 59 degrees; flat ends are milled, drilled ones end in the "
        "point: http://www.sdp-si.com/D220/HTML/D220T043.htm, T43",
    ),
    Rule(
        "make.exit",
        "Do drills start and cross each other square to the surface?",
        "caution: a drill starts on a slope of more than 5 degrees, or breaks into a bore drilled before it, at one "
        "of more than 30",
        "A drill is drawn to the open side: it wanders, its hole is not round, its burr is one-sided.",
        "surfaces square to the bore where it enters and leaves: http://www.sdp-si.com/D220/HTML/D220T043.htm, T43;"
        " the angles: common practice, no source",
    ),
    Rule(
        "make.graze",
        "Do bores of one part stay off each other's sides?",
        "caution: two overlap at their sides only, the axis of the second outside the first, or stand less than 0.2"
        " mm beside each other",
        "The second drill is drawn into the first bore, or breaks the thin lip between them.",
        "crossing bores, axes apart: http://www.sdp-si.com/D220/HTML/D220T043.htm, T43; 75 % of a drill's circle in"
        " material: A definitive guide to DFM success, drill rules, https://th4.ilovetranslation.com/x3N5Jw3OlMw=d;"
        " 0.2 mm: common practice, no source",
    ),
    Rule(
        "make.feather",
        "Are there edges so sharp that they break out or burr over?",
        "caution: material of less than 30 degrees along an edge of 0.2 mm or more, on the real solid",
        "A feather edge tears instead of being cut; its burr comes loose in the coolant.",
        PRACTICE,
    ),
    Rule(
        "make.wall",
        "Is the least wall asked for one that the material stands?",
        "caution: the panel is milled, and least_wall is under what is milled without trouble in the material",
        "Thinner walls break out.",
        "the materials table",
    ),
    Rule(
        "make.material",
        "Is the material one that is printed, by that process?",
        "caution: the panel is printed, and the material has no printed wall in the table, or it is printed in resin, "
        "which no material of the table is",
        "A material that is not known to print has unknown strength and tightness as a print; cured resin is another "
        "material than any filament.",
        "the materials table",
    ),
    Rule(
        "print.room",
        "Does a printed panel fit the printer?",
        "fault: it fits in no pose and cannot be split, with the reason, or once solids are made a part as large as it "
        "is printed, before it shrinks, does not fit as it is made; note: it is split at a plane that cuts channels "
        "only straight across, with a ring of cord round each and screws and pins across the joint",
        "What is larger than the printer is not printed; two pieces must seal where channels pass from one to the "
        "other.",
        "the file's room; groove of the rings: face seal housing table",
    ),
    Rule(
        "print.split",
        "Do the screws of a split's joint keep it closed?",
        "note: what pulls on the most loaded one at the test pressure, and what its thread holds: at least 1.5 times "
        "that pull, or the panel is not split there",
        "A joint that opens by a tenth of a millimetre lets go of its ring.",
        "pressure times area and the cord's load, shared by levers; thread: FED-STD-H28/2; 1.5: common practice, no"
        " source",
    ),
    Rule(
        "print.roof",
        "Does every roof inside print without support, in the pose that the part is made for?",
        "fault: the largest circle under a roof in a closed wet space is wider than 1.25 times what the process "
        "bridges; caution: wider than that, as where channels within the limit join; closed is what "
        "no straight tool reaches over a quarter of the roof or more: 30 mm deep or out of sight from any face",
        "A wide bridge sags into the channel, and nobody takes support out of it.",
        "measured on the part's mesh; the table of processes; 1.25: geometry of a T; 30 mm, a quarter: common "
        "practice, no source",
    ),
    Rule(
        "print.overhang",
        "What outside needs support, in the pose that the part is made for?",
        "note: a surface leans out further than the process carries, and is wider than a bridge or ends in the air",
        "Support leaves a rough face: a seat or spot face under it may not seal.",
        "measured on the part's mesh; the table of processes",
    ),
    Rule(
        "print.island",
        "Does every layer begin on the bed or on the layer below?",
        "caution: a piece of the part starts in the air and joins nothing lower within a layer",
        "It is printed on nothing, and lost.",
        "lowest places of the part's mesh",
    ),
    Rule(
        "print.stand",
        "Does a part stand by itself in the pose that it is made for?",
        "caution: its centre of mass does not lie over what lies on the bed, as where it is tilted onto an edge",
        "It tips over, or tears off the bed, though no surface of it leans out further than the process carries.",
        "statics; measured on the part's mesh",
    ),
    Rule(
        "print.pose",
        "Is the pose that the part is made for the best of those tried?",
        "caution: in another pose the roofs too wide to bridge are narrower, or fewer; note: another starts "
        "fewer layers in the air, stands by itself, or needs 5 cm2 less support",
        "How a part lies decides what support it needs and where.",
        "measured on the part's mesh in six poses and the tilts that the file gives",
    ),
    Rule(
        "print.bridge",
        "Does every roof print without support?",
        "caution: by the plan, what is too flat over a channel or the tank, as the panel lies, is wider than the "
        "process bridges; channels grow no further than that. Solids are measured instead: print.roof",
        "A wide bridge sags into the channel, and support inside cannot be removed.",
        "the process's bridge and overhang: the table of processes; geometry",
    ),
    Rule(
        "print.shape",
        "What do the shapes of printed roofs do to heights and flow?",
        "note: how much higher channels stand for the same section, and their friction against that of flat roofs; "
        "roofs that are pointed where the file asks for round ones",
        "A roof with its edges taken off carries itself; the flow is reckoned with flat ones.",
        "geometry; velocity by harmonic polynomials: Shah, Int. J. Heat Mass Transfer 18 (1975) 849-862; Churchill "
        "1977",
    ),
    Rule(
        "tolerance.wall",
        "Do walls stand the worst case of the general tolerances?",
        "fault: the class in the file may take all of a wall beside coolant or a groove; caution: it may leave less"
        " beside coolant than the material is milled to, or prints watertight, or nothing between two dry features."
        " What is cut in one set-up stands to each other within the tolerance of the wall itself; what is not is "
        "off by both places, measured from the lower left corner, by half of both widths, and in height by the "
        "sheets between",
        "A drawing without tolerances of its own allows them: the wall that was drawn is not the wall that is made.",
        "ISO 2768-1:1989, tables 1 and 2; worst-case addition",
    ),
    Rule(
        "tolerance.squeeze",
        "Do the general tolerances hold the cord's squeeze and fill?",
        "caution: faces off flat by the file's class of form, over the distance between screws, leave the cord "
        "under 15 % of squeeze; note: the groove's own tolerances must stand in the drawing, for by the class alone"
        " the cord is squeezed by less than 15 or more than 30 %, or fills more than 85 % of its groove",
        "A groove a tenth deeper, or faces a few hundredths apart, take half of a thin cord's squeeze.",
        "ISO 2768-1:1989, table 1; ISO 2768-2:1989, table 1, taken between screws; face seal housing tables",
    ),
    Rule(
        "tolerance.spanner",
        "Is there room for spanners and collars at the worst case of the general tolerances?",
        "caution: two fittings may stand nearer than a spanner needs, or one nearer to an edge, the pump's seat or "
        "the body's face than half of its collar",
        "The last fitting cannot be tightened, or its collar hangs over the rim of its seat and leaks.",
        "ISO 2768-1:1989, tables 1 and 2; worst-case addition",
    ),
    Rule(
        "tolerance.screws",
        "Do the cover's screws go in where cover and body are drilled apart?",
        "note: by the class both holes of a screw may stand farther off each other than the cover's hole leaves",
        "One screw that does not go in holds up the whole cover; larger holes seat less of the head.",
        "ISO 2768-1:1989, table 1; fixed fastener, T = (H - F) / 2, ASME Y14.5",
    ),
    Rule(
        "print.wall",
        "Do printed walls hold coolant, and print at all?",
        "caution: the file's least_wall, or once solids are made the thinnest wall beside coolant, is under four "
        "lines of filament or 1.6 mm, under 1 mm of resin, or under what the materials table asks for; a wall "
        "between dry features is under two lines or 0.8 mm, 0.6 mm of resin",
        "Coolant weeps between the lines of thin walls; walls of less than two lines come out broken.",
        "the table of processes (spoolhound.com/wall-guide.html; hycubeworks.in/design_guide; layerx3d.in, SLA and "
        "DLP Resin 3D Printing Design Rules; addema.se/guides-sla) and the materials table",
    ),
    Rule(
        "print.thread",
        "Are printed threads coarse enough?",
        "fault: the bore of a port holds less than the height of its printed thread, or the clearance leaves under a "
        "quarter of that height; caution: it leaves under half of it, or a port's thread is printed with a pitch "
        "under two lines or four layers, 0.5 mm of resin; note: the threads of screws are finer than that, and left "
        "to a tap",
        "A crest that is thinner than a line is not laid, and the thread strips; so do crests that hardly meet.",
        "threads print from M6 on in filament and from M3 on in resin: help.makelab.com, How to Design Holes, "
        "Threads, and Inserts for 3D Printing; lines and layers to a pitch, what clearance must leave: common "
        "practice, no source",
    ),
    Rule(
        "print.fit",
        "What do wider bores leave of the walls in the meshes that are printed?",
        "note: less than the wall's limit; caution: less than what the process prints, or prints tight; fault: "
        "nothing",
        "Bores print narrower, so STL and 3MF have them wider; where one does not, the wall is as thin as in the "
        "file.",
        "geometry; bore_offset of the file or of the table of processes",
    ),
    Rule(
        "print.cavity",
        "Is there a hollow without any opening in a printed part?",
        "fault: in resin; caution: in filament",
        "Liquid resin stays shut in, swells and cracks the part.",
        "topology of closed surfaces; i.materialise.com, design guide for resin: hollows need openings",
    ),
    Rule(
        "print.drain",
        "Can resin leave every hollow, and does none suck at the vat?",
        "caution: in resin, fewer than two openings of 3.5 mm into a channel; an end further than two widths from "
        "any way out; as the part lies, a hollow of 100 mm2 or more that is shut off over 3 mm of height or more",
        "Resin that stays hardens in the channel; a shut hollow draws a vacuum at each peel, which tears walls.",
        "drain hole 3.5 mm: design constraints of stereolithography, "
        "gist.github.com/unsalted/63167e341210cd741cfaf263fb84a5ed; lengths and areas: common practice, no source",
    ),
)
