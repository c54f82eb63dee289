"""Every check's code: what it asks, its limit, why, its source."""

from __future__ import annotations

from layouts.rules.filling_catalogue import FILLING_RULES
from layouts.rules.making_catalogue import MAKING_RULES
from layouts.rules.rule import PRACTICE, Rule
from layouts.rules.tube_catalogue import TUBE_RULES

RULES: tuple[Rule, ...] = (
    Rule(
        "feed.column",
        "Does the tank drop straight into the pump's inlet?",
        "fault: the drop is not one straight line down from the tank to the inlet, something opens into it on the "
        "way, or its section is smaller than that of the pump's inlet bore; caution: the panel is installed more "
        "than 1 degree off upright",
        "Only a straight, free drop keeps the pump in coolant while the loop is filled and bled; a pump "
        "that runs dry wears its bearing within moments.",
        PRACTICE,
    ),
    Rule(
        "feed.low",
        "Is the pump's inlet below the tank's outlet?",
        "fault: the inlet stands as high as the outlet, or higher, as the panel is installed, or the panel lies flat "
        "with the pump on top; caution: it lies flat with the pump under it, or with a separate tank, whose height the "
        "file does not say",
        "Coolant does not run up into a pump; the inlet must stay covered when the loop is opened.",
        PRACTICE,
    ),
    Rule(
        "feed.depth",
        "Does enough coolant stand over the tank's outlet at the cold level?",
        "fault: less than half of D, D the outlet's diameter, which leaves it bare; note: less than S = D (1 + 2.3 "
        "Fr), with Fr = V / sqrt(g D) at the outlet; caution: that, and less than 1.5 D",
        "A bare outlet or a vortex carries air into the pump: noise, lost head and a worn bearing. The formula is "
        "made for sumps; at this size surface tension holds the vortex back and it is an upper bound. A baffle "
        "over the outlet cures it.",
        "ANSI/HI 9.8-1998 Pump Intake Design, section 9.8.7; 0.5 and 1.5 D: common practice, no source",
    ),
    Rule(
        "feed.tilt",
        "How far may the panel be tilted before the tank's outlet is bare?",
        "caution: less than 10 degrees to the left, the right, forwards or backwards, at the cold level",
        "A panel is carried, hung askew and tilted to let air out; a tilt that bares the outlet feeds air to the "
        "pump.",
        "geometry of the pocket; 10 degrees: common practice, no source",
    ),
    Rule(
        "feed.head",
        "Has the pump's inlet the head that it needs?",
        "fault: less than the file's least_inlet_head over the vapour pressure at the coolant's temperature; "
        "caution: less than 0.5 m more than that; silent where the file gives none",
        "Below it the coolant boils at the impeller: noise, lost head and pitted blades.",
        "available net positive suction head; a glycol mix is taken to boil as water does, an upper bound (Raoult); "
        "0.5 m: common practice, no source",
    ),
    Rule(
        "feed.bore",
        "Is the drop from the tank as wide as the tank's outlet asks for?",
        "caution: the tank's outlet_bore is larger than the width that the drop is cut with",
        "The narrower drop costs the head that keeps the pump's inlet from drawing air.",
        PRACTICE,
    ),
    Rule(
        "pump.choice",
        "Is the panel made for the best pump of the file?",
        "note: another pump of the file stands before the used one, can be mounted and run, and does not reach less "
        "where the wanted flow is missed; one that just fits must reach more than a used one that falls short. The "
        "order: pumps that fit (a place for the seat, bores, head at the inlet, curve, noise at the least speed, and "
        "the wanted flow reached within the allowed noise; one just fits where that flow only lies within the band "
        "of what is reached) before those that are only short of the wanted flow, and these before the rest; "
        "then the flow reached within the allowed noise, which counts up to the wanted flow; then head margin at "
        "the wanted flow, within the allowed noise, where there is one; then less electric power, slowed to the "
        "wanted flow where the pump can be; then less hydraulic power; then the order of the file. Flows within the "
        "band of the larger are equal, head margins within twice that band of the head",
        "A loop of narrow channels and blocks wants head, an open one wants flow: the pump with the larger numbers "
        "on its data sheet may be the weaker one on this loop.",
        "each pump's curve on the loop's, speed by the affinity laws; the order: common practice, no source",
    ),
    Rule(
        "pump.fit",
        "Has the used pump room for its seat?",
        "fault: the seat reaches out of the panel or of the box that [pump] within allows, or over what is kept clear",
        "A pump that overhangs cannot be bolted down, and its seal has no flat to press on.",
        "geometry",
    ),
    Rule(
        "pump.bore",
        "Does the pump's outlet bore suit the channel behind it?",
        "note: the bore has more than 4 times the section of the channel",
        "From there on a larger bore gains no head; it takes room, and air stays in its corners. The drop of the "
        "narrowing is counted in the flow.",
        PRACTICE,
    ),
    Rule(
        "pump.seat",
        "Does the pump's outlet bore keep off the rim of its seat?",
        "caution: the bore lies partly inside the seat, partly outside it",
        "The rim cuts the ring on which the pump's seal presses round the bore: it leaks there.",
        "geometry",
    ),
    Rule(
        "pump.noise",
        "Does the used pump keep within the noise that the file allows?",
        "caution: its sound level at the speed at which it runs is above most_noise; without a speed that of its "
        "most speed; note: the file gives most_noise, but not the noise of the used pump",
        "A slower pump is quieter: half the speed is 15 dB less, and gives some half of the flow.",
        "sound level falls by 50 log10 of the speed ratio, as for fans: common practice, no source",
    ),
    Rule(
        "pump.flow",
        "Does the loop reach the flow that the file asks for?",
        "caution: less than flow of [loop]",
        "Parts cool as their data promise only at the flow for which they are given.",
        "the file's flow",
    ),
    Rule(
        "flow.fast",
        "Is the coolant slow enough in every channel and pump bore?",
        "caution: above most_velocity of the file; fault: above 2.5 m/s",
        "Fast coolant costs pressure with the square of its speed, makes noise and wears soft walls.",
        PRACTICE,
    ),
    Rule(
        "channel.narrow",
        "Is every channel as wide as its flow asks for?",
        "caution: narrower than keeps the coolant at no more than 2.5 m/s at the flow reached, than the cutter, or "
        "than 3 mm where it is printed; note: a millimetre or more narrower than recommended, which is where it also "
        "keeps most_velocity of the file, a millimetre more brings less than 0.5 % of flow, and all channels as "
        "recommended still let the wanted flow through (without one, or where the pump does not reach it: 95 % of "
        "the flow reached); or where its walls let it grow so far that the flow rises by 2 % "
        "or more",
        "A narrow channel takes head that the parts could use; past the recommended width more of it only takes "
        "room from walls and seals.",
        PRACTICE,
    ),
    Rule(
        "flow.beyond",
        "Does the pump work within its measured curve?",
        "caution: the operating flow lies beyond the curve's last point; more than 20 % beyond it no flow is "
        "worked out at all",
        "Past its last point the curve is a guess, and many pumps draw air or overload there.",
        "geometry of the curve: no value is known beyond its last point",
    ),
    Rule(
        "part.curve",
        "Does each part's drop rise as coolant makes it?",
        "caution: between two points of its resistance the drop rises with a power of the flow below 0.9 or above 2.6",
        "Laminar flow rises with the power 1, turbulent flow with 1.75 to 2, the step between them a little faster; "
        "anything else is mostly a unit or a digit gone wrong, and the whole loop's flow with it.",
        PRACTICE,
    ),
    Rule(
        "flow.uneven",
        "Do parallel parts get like flows?",
        "caution: the least flow of a group is more than 20 % under the greatest",
        "The starved part runs warmer than its data promise.",
        PRACTICE,
    ),
    Rule(
        "heat.rise",
        "How much does the coolant warm in a part?",
        "note: more than 5 K; where the coolant would leave the part above 100 °C, it says that it boils",
        "A large rise says that the flow, not the part, limits the cooling.",
        PRACTICE,
    ),
    Rule(
        "heat.level",
        "How warm does the coolant become?",
        "caution: nothing in the file takes the heat away, or the coolant is above 60 °C anywhere (above 100 °C it "
        "boils, above 150 °C no number is told); note: the radiators keep it more than 5 K off the file's temperature, "
        "a caution where the file cannot name what they keep it at",
        "Pumps, tubes and acrylic suffer above 60 °C; flow and drops are worked out at the file's temperature.",
        "balance of heat; 60 °C and 5 K: common practice, no source",
    ),
    Rule(
        "heat.spread",
        "Does the order of the parts matter?",
        "note: another order would change the coolant at some part's inlet by more than 5 K",
        "With enough flow the coolant is nearly as warm everywhere, and order hardly matters; a larger effect says "
        "that flow is short.",
        "balance of heat over all orders of the loop's stages at the same flow; 5 K: common practice, no source",
    ),
    Rule(
        "heat.capacity",
        "Is each radiator's capacity known, and at its flow?",
        "note: the flow lies before the first or beyond the last point of capacity; a part has neither heat nor "
        "capacity where others have a capacity",
        "Beyond its points the capacity is only taken to stay level, and with it the coolant's temperature. Where "
        "any part has a capacity, one without takes no heat away: a radiator then stands idle.",
        "geometry of the curve: no value is known beyond its points",
    ),
    Rule(
        "tank.fill",
        "Can the tank be filled to its level from above?",
        "caution: a tank pocket has no fill port, or the port's mouth lies under the filling level",
        "A tank that cannot be filled to its level never clears its air.",
        PRACTICE,
    ),
    Rule(
        "tank.posts",
        "Does the cover over the tank need posts, and do they help enough?",
        "note: in the middle of the tank it bows by more than a quarter of the squeeze that the cord has at the worst "
        'tolerances, or posts = "auto" let posts stand there; caution: no number of posts that fits helps enough',
        "A cover that bows between far screws lifts off its cord. A post holds it down in the middle of the pocket; "
        "its screw's hole has a cord of its own.",
        "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, chapter 5, with points that stand still; a "
        "quarter as for the cover's bow",
    ),
    Rule(
        "tank.room",
        "Has the tank room for the coolant's growth over its cold level?",
        "caution: less than tank, channels, parts and hoses, as far as their volume is given, grow by from 20 to 60 °C",
        "A full loop has nowhere to grow into: its pressure rises until a fitting weeps.",
        "densities of the coolant; 20 and 60 °C: common practice, no source",
    ),
    *FILLING_RULES,
    *TUBE_RULES,
    Rule(
        "port.room",
        "Does a spanner swing on each fitting?",
        "fault: two ports on one face stand nearer than one fitting's spanner and the other's collar need",
        "The second fitting cannot be tightened.",
        PRACTICE,
    ),
    Rule(
        "port.seat",
        "Does each fitting's collar seat wholly on its face?",
        "fault: the spot face or collar runs off the face, over its rounded corner or onto the pump's seat",
        "The sealing ring needs a whole flat under it.",
        "DIN 3852-2 (collar and spot face); the rest is geometry",
    ),
    Rule(
        "thread.depth",
        "Is there enough thread for the fitting?",
        "fault: less than a short collar's thread and one pitch; caution: less than the standard's full "
        "thread",
        "A fitting on too few turns tears out; a long one in a short hole bottoms before it seals.",
        "DIN 3852-2 (full thread); short collars: common practice, no source",
    ),
    Rule(
        "port.wall",
        "Does enough solid stand round each port's thread?",
        "caution: less than the least wall of the file, or than one pitch, between the thread's largest diameter and a "
        "face, an edge, a groove, a hole or other coolant; fault: less than the thread is deep",
        "The thread is cut wider than its bore, and a tightened fitting presses outwards on its flanks: a thin wall "
        "beside it cracks.",
        "ISO 228-1 (diameters, height of the thread); one pitch, and the thread's height: common practice, no source",
    ),
    Rule(
        "port.torque",
        "Are fittings screwed into a plastic?",
        "note: always where a port's thread is cut in one",
        "A face seal needs little force; more bursts the plastic along the thread, at once or after weeks.",
        "hand tight and a quarter turn: common practice, no source",
    ),
    Rule(
        "seal.squeeze",
        "Is the cord squeezed rightly at the worst tolerances?",
        "caution: outside 15 to 30 %",
        "Less weeps, more cuts the cord and lifts the cover.",
        "Mechanical Engineers' Handbook, static seals: 30 % at most; face seal housing tables: 15 % at least",
    ),
    Rule(
        "seal.fill",
        "Is there room for the cord in its groove at the worst tolerances?",
        "fault: the cord fills more than 85 % of its groove",
        "Rubber does not compress: a full groove lifts the cover.",
        "face seal housing tables: 85 % at most",
    ),
    Rule(
        "seal.bend",
        "Can the cord follow its groove?",
        "fault: the inner radius of a turn is under 1 cord section; caution: under 3; note: under 6",
        "A cord bent tighter buckles out of its groove or thins at the corner.",
        "cord groove guides, https://barnwell.co.uk: inner radius of 3 sections at least, 6 ideally; 1 section: common "
        "practice, no source",
    ),
    Rule(
        "seal.cross",
        "Does each groove keep off ports, holes and other grooves?",
        "fault: a groove runs into something else that is cut at its depth",
        "The cord has no floor there, and the cover no land: it leaks.",
        "geometry",
    ),
    Rule(
        "seal.wall",
        "Does enough solid stand between each groove and the bores under or beside it?",
        "fault: less than the least wall of the file",
        "Coolant finds its way through a thin wall into the groove, past the cord.",
        "geometry, on the plan; the file's least_wall",
    ),
    Rule(
        "seal.shared",
        "Do neighbouring regions share a groove?",
        "note: wherever two grooves do not fit and the file lets one be shared",
        "What passes that cord gets from one region into the other, and nobody sees it; where a cord is butted against "
        "another the seal is only as good as the bond.",
        "geometry; butted cords: common practice, no source",
    ),
    Rule(
        "cover.screws",
        "Is every stretch of cord held down by a screw?",
        "caution: a place of the cord is further from its nearest screw than half of what the cover's stiffness, 10 "
        "screw diameters, or 8 thicknesses of a plastic cover allow between two, for there is no room for one; fault: "
        "no screw at all",
        "The cover bows up between screws and the cord loses its squeeze.",
        "beam between screws: spacing = (32 E a t^3 d / q)^(1/4), with 0.05 mm of lift; 10 diameters and 8 "
        "thicknesses: common practice, no source",
    ),
    Rule(
        "cover.bow",
        "Does the cover stay on its cord, in use and at the test?",
        "caution: it lifts at a place of the cord by more than a quarter of the cord's squeeze at the worst "
        "tolerances; fault: by so much that less than 10 % of squeeze is left there",
        "Where the cover bows up between its screws the cord loses its squeeze, and weeps.",
        "plate by finite elements, shear counted, on the body and under the screws' heads, loaded by the "
        "coolant up to the cord's middle and by the cord at its largest squeeze; a quarter: fastener spacing for "
        "gasketed covers; 10 %: published compression guide, https://oringsupplyco.com/blog/o-ring-compression-rate-guide/",
    ),
    Rule(
        "cover.stress",
        "Does the cover stand its bending, in use and at the test?",
        "fault: a stress above what its material stands, for years in use, for hours at the test; caution: in use, "
        "above half of that in a plastic",
        "Acrylic crazes under lasting stress, half as much near screws, alcohols and glycols; a crack starts there.",
        "plate by finite elements, its stress averaged over a circle one thickness wide; allowable stress: the "
        "materials table",
    ),
    Rule(
        "cover.thick",
        "Does the cover hold over the widest wet span, by the quick estimate of the plan?",
        "fault: it is thinner than the least wall, or, bonded, the stress is above what the material stands; caution: "
        "in use, above half of that where the coolant attacks it; on a cord, caution: either of the last two, left out "
        "once the real cover is calculated",
        "Acrylic crazes under lasting stress, half as much near screws, alcohols and glycols.",
        "Levy's series for a simply supported plate (Timoshenko and Woinowsky-Krieger, Theory of Plates and "
        "Shells, table 8); allowable stress: the materials table",
    ),
    Rule(
        "floor.thick",
        "Do the body's floors over tank and channels stand the pressure, in use and at the test?",
        "fault: the stress of a sheet whose edges only rest is above what its material stands; caution: in use, above "
        "half of that where the coolant attacks it",
        "Acrylic crazes under lasting stress; a floor that breaks cannot be mended.",
        "rectangular plates (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells): edges that rest, table "
        "8, as the safe side, edges that are held, table 35, as the other; allowable stress: the materials table",
    ),
    Rule(
        "test.low",
        "Is the test pressure no less than the panel sees in use?",
        "caution: the file's test_pressure is under the pump's head without flow and the coolant's own height together",
        "A panel that was never under as much pressure as its use brings is tested by its use. Covers, floors, screws "
        "and bonds are held against the test pressure, so the checks of the test say too little as well.",
        "hydrostatics; a test at no less than the working pressure: common practice, no source",
    ),
    Rule(
        "screw.growth",
        "May cover and body grow unlike without bending the cover's screws?",
        "caution: between 20 °C and the coolant's warmest, or 0 °C and colder coolant, the furthest screw's place in "
        "the cover moves over its place in the body by more than the clearance hole leaves to a side; only where "
        "cover and body are of different materials",
        "The screw is bent, the cover cracks at its hole, or it warps and lifts off its cord.",
        "expansion: the materials table; clearance holes: ISO 273; 0 °C: common practice, no source",
    ),
    Rule(
        "screw.thread",
        "Does the thread of the cover screws hold in the body?",
        "fault: thread or insert bears less for years than pulls on the most loaded screw at the test pressure; "
        "caution: less than 1.5 times that, which keeps the joint closed; or the body is thinner than the thread which "
        "its material needs",
        "A thread that is loaded beyond its lasting limit creeps, crazes and strips, and the cover lifts.",
        "FED-STD-H28/2 (shear area of the thread); the materials table (allowable stress, engagement); tightening by "
        "torque scatters by a factor of 1.6 to 2 (VDI 2230), 1.5: common practice, no source",
    ),
    Rule(
        "screw.head",
        "Does the cover bear the cover screws' heads?",
        "fault: the cover under a head or its washer bears less for years than pulls on the most loaded screw at "
        "the test pressure; caution: less than 1.5 times that",
        "A head sinks into a plastic cover, crazes it, and the screw loses its pull.",
        "pull over the bearing face (ISO 4762, ISO 7089, ISO 7093-1); allowable stress: the materials table",
    ),
    Rule(
        "screw.length",
        "Is there a cover screw of a preferred length?",
        "fault: none reaches the body with its tip off the bottom of the hole; caution: the longest that does has less "
        "thread than the body's material needs",
        "A screw that touches the bottom does not clamp, and feels tight all the same.",
        "ISO 4762 (lengths); thread engagement: the materials table",
    ),
    Rule(
        "screw.insert",
        "Do threaded inserts help, and do they fit?",
        "note: a plastic body is tapped, or where inserts go and into which holes; caution: less wall round an insert "
        "than the table of inserts asks for, or no insert for that body; fault: the body is too thin for one",
        "A thread cut in plastic wears with each opening; an insert with too little plastic round it splits it.",
        "the table of inserts; the maker's drawing comes before it",
    ),
    Rule(
        "screw.room",
        "Have the cover screws' heads and washers room, and fittings, spanners and pump beside them?",
        "fault: a head under the pump or a fitting's collar, or in another head; caution: in the way of a spanner, or "
        "a washer that does not lie flat",
        "A head stands up from its face: what comes after it does not seat, or cannot be tightened.",
        "ISO 4762, ISO 7089, DIN 3852-2 (sizes); spanner: common practice, no source",
    ),
    Rule(
        "screw.torque",
        "How tight are the cover screws?",
        "note: always where body or cover is of plastic",
        "Plastic creeps under a screw, and the cord loses its squeeze; a tighter screw only creeps more.",
        "VDI 2230 (torque), friction of 0.1 to 0.2: common practice, no source; thread locker: D. Dunn, Adhesives and "
        "Sealants Industry, August 2018",
    ),
    Rule(
        "bond.land",
        "Is every bonded land wide enough?",
        "fault: less than 4 mm, or the file's least_wall where that is more, between two wet things, to the outer "
        "edge, or to a dry hole through the joint",
        "Adhesive wets no joint all over; on a narrow land one flaw is a leak.",
        PRACTICE,
    ),
    Rule(
        "bond.pull",
        "Does the bond hold the cover, at the test and in use?",
        "fault: at the rim of a wet span more than 2.77 MPa; caution: there more than 1.23 MPa (2.77 / 2.25) at the "
        "test or 0.41 MPa (2.77 / 6.75) in use, or more than 0.41 MPa at the test in the mean over all lands",
        "A cover that bows over a wide span peels the bond open from the rim.",
        "strength of solvent-bonded acrylic: Tsao, Chang and Chien, Micromachines 13 (2022) 1131; partial factors: "
        "Adhesives Design Toolkit (National Physical Laboratory), durability design, table 2; rim: Hetenyi, Beams on "
        "Elastic Foundation, with Kanninen's foundation (1973), recalled, not verified",
    ),
    Rule(
        "bond.squeeze",
        "Where does the adhesive go that is pressed out of the lands?",
        "note: always; caution: all of it would take more than a quarter of a channel's section",
        "Beads along the channels narrow them and come loose into the pump.",
        "a film of 0.2 mm pressed to 0.1 mm: within the 0.05 to 0.2 mm of B. Goss, Practical Guide to Adhesive Bonding "
        "of Small Engineering Plastic and Rubber Parts; a quarter: common practice, no source",
    ),
    Rule(
        "bond.clamp",
        "How is the cover pressed on while the bond sets?",
        "note: always; caution: no clamp or weight presses some land",
        "A land that is not pressed stays open; one pressed hard is starved of adhesive, and acrylic crazes.",
        "cone of 45 degrees from each clamp: R. Rabiej, How to glue up joints, Fine Woodworking, 2010; board, pads "
        "and pressure: common practice, no source",
    ),
    Rule(
        "bond.material",
        "Do body and cover take a bond?",
        "caution: one of them is POM; caution: their expansion differs by more than 1e-5 1/K",
        "Neither solvents nor adhesives hold on POM without treatment; unlike plates shear the bond with each warming.",
        PRACTICE,
    ),
    Rule(
        "seat.floor",
        "Is there a wall between the pump's seat and the coolant under it?",
        "fault: less than the least wall",
        "The seat would break into the channel under it.",
        "the file's least_wall",
    ),
    Rule(
        "pump.screws",
        "Do the pump's screws stand in whole material, with enough thread?",
        "fault: a screw cuts a bore of the pump, another of its screws, or the rim of its seat; caution: less "
        "thread than the material's engagement",
        "A screw that opens a bore leaks along its thread; one with too little material round it strips.",
        "geometry; thread engagement: the materials table",
    ),
    *MAKING_RULES,
    Rule(
        "material.heat",
        "Do body and cover stand the coolant's heat?",
        "fault: the coolant's warmest place is above what the material stands for years; caution: within 10 K of it",
        "A warm plastic creeps under its own screws until the cord is loose; a wet one grows brittle.",
        "the materials table; 10 K: common practice, no source",
    ),
    Rule(
        "material.coolant",
        "Does the coolant attack what it touches?",
        "caution: a glycol in a plastic that it crazes; aluminium in a coolant without inhibitor; note: parts of "
        "unknown metal beside aluminium in such a coolant; inhibitors in a plastic that alkali and amines attack",
        "Crazed plastic cracks at half of the stress that it stands in clean air; corroded aluminium pits, leaks and "
        "clogs the channels.",
        "the materials table; half of the stress: common practice, no source",
    ),
    Rule(
        "wall.floor",
        "Does a wall stand between channels that cross in the body's two faces?",
        "fault: the body less two channel depths is under the least wall of the file",
        "Where they cross, coolant would pass from one channel into the other.",
        "geometry; the file's least_wall",
    ),
    Rule(
        "wall.thin",
        "Is there a wall between every two features that must not meet?",
        "fault: less than the least wall of the file",
        "It leaks or breaks.",
        "the file's least_wall; measured on the exact solids",
    ),
    Rule(
        "wall.breach",
        "Do any two features meet that must not?",
        "fault: they touch or overlap",
        "Coolant finds its way.",
        "geometry; measured on the exact solids",
    ),
    Rule(
        "wall.rays",
        "Do rays through the mesh find a thin place that pairs of features do not show?",
        "caution: less than the least wall of the file",
        "A second, independent look at every wall.",
        "the file's least_wall; rays from sampled points of the mesh",
    ),
    Rule(
        "volume.differs",
        "Do plan, solid, mesh and an independent rebuild hold the same volume?",
        "fault: they differ by more than the accuracy of the comparison",
        "One of them is wrong, and it may be the one that is made.",
        "identity of volumes",
    ),
    Rule(
        "volume.split",
        "Does the coolant fill as many separate spaces as the plan has channels and tank that belong together?",
        "fault: more spaces or fewer",
        "A port that misses its channel gives no coolant; two channels that run together short the loop.",
        "the plan's own wet regions",
    ),
    Rule(
        "mesh.open",
        "Is every mesh closed and rightly turned?",
        "fault: an open edge, a wrong winding or a wrong count of holes",
        "A printer or a checker would guess at it.",
        "topology of closed surfaces",
    ),
)

NEVER_ACCEPTED = frozenset({"volume.differs", "volume.split", "mesh.open", "wall.breach"})
"""Codes that mean a broken solid: no reason of the maker's mends what would be exported."""

BY_SOLIDS = frozenset(
    {
        *("wall.thin", "wall.breach", "wall.rays", "volume.differs", "volume.split", "mesh.open"),
        *("tolerance.wall", "make.feather", "cover.bow", "cover.stress"),
        *("print.overhang", "print.island", "print.stand", "print.pose", "print.roof"),
    }
)
"""Codes of checks that are made on the solids, and not at all without them."""
