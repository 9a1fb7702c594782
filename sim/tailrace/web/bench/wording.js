// @ts-check
/** What the page says of tables and keys beside what the program's own tables mean. */
import { spoken } from "../shown/numbers.js";

/** Keys that a form shows at once, in this order; all others stand under "More". */
export const FIRST = {
  method: ["flow", "temperature", "eluent"],
  solutes: ["retention_time", "retention_factor", "molar_volume", "formula", "diffusivity"],
  "solutes.changing": ["kw", "s", "molar_volume", "formula", "diffusivity"],
  detector: ["time_constant", "rise_time", "interval", "rate", "noise"],
  limits: ["pressure"],
  changes: ["cost", "effort", "caution"],
  "path.tube": ["bore", "length", "volume", "bend_radius"],
  "path.fitting": ["gap_bore", "gap_length"],
  "path.chamber": ["volume"],
  "path.column": ["bore", "length", "particle_diameter", "particle", "plates"],
  "path.cell": ["volume", "light_path", "pressure_limit"],
  "path.tee": ["make_up", "split", "split_share"],
};

const LABELS = {
  "method.flow": "Flow rate",
  "method.temperature": "Temperature",
  "method.stated_temperature": "Temperature at which k and plates were found",
  "method.stated_flow": "Flow rate at which plates were found",
  "method.stated_strong": "Strong solvent at which k was found",
  "solutes.retention_factor": "Retention factor k",
  "solutes.rings": "Rings in the formula",
  "solutes.kw": "k in the weak solvent (kw)",
  "solutes.s": "Slope S",
  "path.column.particle": "Particles",
  "path.column.plates": "Plates of the column",
  "path.cell.length": "Length, of a cell that does not mix",
  "path.cell.read": "What the beam sees",
  "path.cell.light_path": "Light path",
  "path.cell.pressure_limit": "Pressure limit of the cell",
  "path.cell.tanks": "Mixed as so many tanks",
  "path.tube.inlet": "What the joint before it does",
  "path.chamber.tanks": "Mixed as so many tanks",
  "detector.time_constant": "Response, as a time constant",
  "detector.rise_time": "Response, as a rise time",
  "detector.rate": "Data rate",
  "detector.interval": "Interval of the points",
  "detector.noise": "Noise, peak to peak",
  "limits.pressure": "Pressure limit",
  "injection.gaussian.sigma": "Standard deviation in time",
  "injection.strong": "Strong solvent in the sample",
  "detector.cell": "Cell in which it is recorded",
};

const MEANINGS = {
  "method.flow": "What the pump delivers.",
  "method.temperature": "Of eluent, column and tubes; a part can have its own.",
  "method.viscosity": "In place of an estimate from the eluent: at the temperature at which k was found, and carried to others as the eluent's, where that is known.",
  "solutes.retention_factor": "(Retention time − dead time) / dead time; 0 of what is not retained.",
  "solutes.retention_time": "As it is read off a chromatogram of this instrument; or give k.",
  "solutes.formula": "Such as C8H10N4O2: enough for an estimate of how fast it diffuses, good to 10 to 20 %.",
  "solutes.molar_volume": "About the molar mass in g/mol is enough: 200 mL/mol for 200 g/mol (a rule of thumb).",
  "solutes.diffusivity": "Where it is known; else the formula or the molar volume is enough.",
  "gradient.dwell_volume": "From where the liquids meet to the inlet of the first column, tubes included: as measured of the instrument. 400 uL, with which a new gradient begins, is assumed.",
  "solutes.kw": "k in water, extrapolated: from two runs, or from k at one composition and S.",
  "solutes.s": "Decades by which k falls from water to the strong solvent; about 4 to 5 of small molecules (common practice, no source).",
  "path.name": "As you call it; no other part has this name.",
  "detector.time_constant": "The time in which a step is followed to 63 %. Where the manual says only response time, see which of the two it means.",
  "detector.rise_time": "From 10 % to 90 % of a step, in place of the time constant: 2.2 time constants.",
  "detector.rate": "Points a second, in place of the interval.",
  "detector.noise": "Peak to peak, as stated, or as measured with a response that is given under More settings.",
  "detector.averaged": "Each point is the mean over the interval before it.",
  "limits.pressure": "What pump, column, tubes and joints bear, the weakest of them; see their manuals.",
  "path.tube.bore": "Inner diameter.",
  "path.tube.length": "As the liquid travels.",
  "path.tube.volume": "In place of the bore or of the length.",
  "path.tube.bend_radius": "Where it is coiled, or bent on its way: the bend stirs the liquid across the bore, and the tube broadens less, most so at high flow. Without it the radius of the method, or straight.",
  "path.tube.inlet": "Mixed: the joint before it mixes the band over the cross-section, as most are taken to. Carried over: the band enters as it left the tube before, as in one uncut piece.",
  "path.fitting.gap_bore": "Inner diameter of the gap between the end of the tube and the bottom of the port.",
  "path.fitting.gap_length": "How far the end of the tube stands off; 0.02 mm of one that is cut square and seated.",
  "path.chamber.volume": "Mixed: a filter, a mixer, a groove of a valve. A bored passage, of which bore and length are known, is no mixed volume: add a capillary with these in its place.",
  "path.column.plates": "Of its certificate, or measured; without them those of a good column are estimated.",
  "path.tube.heater": "It brings the eluent to the temperature of the column.",
  "path.column.dead_time": "When an unretained solute (t0) is recorded on this instrument as it is; in place of the porosity.",
  "path.column.bore": "Inner diameter of the bed.",
  "path.column.length": "Of the bed.",
  "path.column.particle_diameter": "Of the packing.",
  "path.column.particle": "Porous throughout, or a porous shell on a solid core.",
  "path.cell.light_path": "As the maker states it. The signal is proportional to it.",
  "path.cell.pressure_limit": "As its manual states it. Cells burst.",
  "injection.plug.volume": "What is injected, as a sharp plug.",
  "injection.washout.volume": "What is injected.",
  "injection.washout.washout_volume": "Mixed volume that the sample is washed out of.",
  "injection.loop.volume": "Of the sample: all that the loop holds, or less.",
  "injection.loop.loop_bore": "Inner diameter of the loop.",
  "injection.loop.loop_volume": "Of the whole loop, in place of its bore or its length.",
  "injection.loop.loop_length": "Of the whole loop; left out where the sample fills it.",
};

/** @param {string} table @param {string} key @returns {string} */
export function labelOf(table, key) {
  return fitting(LABELS, table, key) ?? spoken(key);
}

/** @param {string} table @param {string} key @param {string} told by the program's tables @returns {string} */
export function meaningOf(table, key, told) {
  return fitting(MEANINGS, table, key) ?? told;
}

/** What is said of a key of this table, or else of all tables of its kind. @param {Record<string, string>} of
 * @param {string} table @param {string} key @returns {string | undefined} */
function fitting(of, table, key) {
  return of[`${table}.${key}`] ?? of[`${table.split(".")[0]}.${key}`];
}

/** Shapes of the injection. */
export const SHAPES = {
  plug: "a sharp plug",
  washout: "a plug with a tail (washout)",
  loop: "from the sample loop, in the stream",
  gaussian: "a bell curve (for tests)",
  signal: "a curve from a file",
};

/** What to take care of where a part of this kind is touched. */
export const CARE = new Map(Object.entries({
  tube: "Narrower bores raise the pressure. Stop the pump and wait for zero before a joint is opened; eye protection and gloves, solvents burn and are poisonous.",
  fitting: "Stop the pump and wait for zero before a joint is opened; do not overtighten.",
  chamber: "Stop the pump and wait for zero before it is opened.",
  column: "Stay below the pressure that its maker states.",
  cell: "A flow cell bears far less than the column and bursts: hold its limit. Lamp off and mains unplugged before the detector is opened; ultraviolet light harms the eyes.",
  tee: "A blocked branch sends all of the flow and its pressure the other way.",
  heater: "Let heaters cool before they are touched.",
}));

export const CAUTIONS = [
  ["Pressure.", "Narrower tubes and smaller particles raise it. Stay below the limits of pump, column, tubes and joints. Stop the pump and wait for zero before opening a joint."],
  ["Flow cell.", "It bears far less than the column, often some tens of bar (common practice, no source), and bursts. A narrow tube, a second detector or a blocked waste line behind it puts pressure on it."],
  ["Solvents", "burn and are poisonous. Eye protection, gloves, ventilation; catch what drips."],
  ["Lamp.", "Ultraviolet light harms the eyes. Off, and the mains unplugged, before the detector is opened."],
  ["Heat.", "Let ovens and heaters cool. Leave a heater out only where the method needs no control of temperature."],
];

/** Short names of the kinds of parts. */
export const KIND_WORDS = new Map(Object.entries({
  tube: "tube",
  fitting: "joint",
  chamber: "mixed volume",
  column: "column",
  cell: "flow cell",
  tee: "tee",
}));

/** What a part of each kind is. */
export const KINDS_TOLD = new Map(Object.entries({
  tube: "An open tube: capillary, seat, loop, heater, restrictor.",
  fitting: "A joint, well or badly made: what counts is the gap between the end of the tube and the bottom of the port.",
  chamber: "A mixed volume: filter, mixer, groove of a valve.",
  column: "A packed column.",
  cell: "The flow cell of the detector; the signal is recorded in it.",
  tee: "A tee behind the column, where flow joins or leaves.",
}));
