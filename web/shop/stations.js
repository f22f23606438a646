// The stations of a mill: what is done at each, which lots are scanned there and what a scan of one means. One row a
// station; the pages are drawn from it. A new station is a row here and its words ("station.ID").

/**
 * id         the station, as in the address (?station=ID)
 * page       which way of working: 'goods', 'batch', 'runs', 'cut', 'testing', 'stores'
 * processes  what its machines do
 * takes      kinds of lot that are scanned here
 * makes      kind of the packages of its runs; null: that of what is loaded
 * lines      names of the lines a run has when nothing is known of the machine
 * counts     the usual numbers of lines, which are asked at the start of a run; empty: not asked
 * core       whether a core may be asked for besides
 * join       how a lot is joined behind the one before it
 * ratio      what the length made is reckoned from: 'diameter' (area ratio), 'lay' (take-up), 'same'
 * split      true: a lot may be shared out to several at once, on a drawing of its length
 * scan       key of the words that say what a scan means here
 */
export const STATIONS = [
  { id: 'goods-in', page: 'goods', processes: [], takes: [], makes: 'rod', scan: 'scan.goods-in' },
  {
    id: 'cleaning',
    page: 'batch',
    processes: ['clean'],
    takes: ['rod', 'coil', 'bobbin'],
    makes: null,
    scan: 'scan.cleaning',
  },
  {
    id: 'drawing',
    page: 'runs',
    processes: ['draw'],
    takes: ['rod', 'coil', 'bobbin'],
    makes: 'bobbin',
    lines: ['1'],
    counts: [],
    join: 'weld',
    ratio: 'diameter',
    scan: 'scan.load',
  },
  {
    id: 'heat-treating',
    page: 'runs',
    processes: ['patent', 'galvanise'],
    takes: ['rod', 'coil', 'bobbin'],
    makes: 'bobbin',
    lines: ['1'],
    counts: [1, 12, 24, 36],
    join: 'weld',
    ratio: 'diameter',
    scan: 'scan.load',
  },
  {
    id: 'winding',
    page: 'runs',
    processes: ['wind'],
    takes: ['coil', 'bobbin', 'rod'],
    makes: 'bobbin',
    lines: ['1'],
    counts: [],
    join: 'weld',
    ratio: 'same',
    split: true,
    scan: 'scan.load',
  },
  {
    id: 'stranding',
    page: 'runs',
    processes: ['strand'],
    takes: ['bobbin', 'coil', 'core', 'strand'],
    makes: 'strand',
    lines: numbered(19),
    counts: [7, 19, 36],
    core: true,
    join: 'braze',
    ratio: 'lay',
    scan: 'scan.load',
  },
  {
    id: 'closing',
    page: 'runs',
    processes: ['close'],
    takes: ['strand', 'core', 'rope'],
    makes: 'rope',
    lines: ['CORE', ...numbered(6)],
    counts: [6, 8, 18],
    core: true,
    join: 'tuck',
    ratio: 'lay',
    scan: 'scan.load',
  },
  {
    id: 'finishing',
    page: 'runs',
    processes: ['compact', 'coat'],
    takes: ['strand', 'rope', 'bobbin'],
    makes: null,
    lines: ['1'],
    counts: [],
    join: 'tuck',
    ratio: 'same',
    scan: 'scan.load',
  },
  {
    id: 'cutting',
    page: 'cut',
    processes: ['cut'],
    takes: ['rope', 'strand', 'reel'],
    makes: 'reel',
    scan: 'scan.cutting',
  },
  {
    id: 'testing',
    page: 'testing',
    processes: [],
    takes: ['rod', 'coil', 'bobbin', 'strand', 'core', 'rope', 'reel'],
    makes: null,
    scan: 'scan.testing',
  },
  {
    id: 'stores',
    page: 'stores',
    processes: [],
    takes: ['rod', 'coil', 'bobbin', 'strand', 'core', 'rope', 'reel'],
    makes: null,
    scan: 'scan.stores',
  },
];

function numbered(n) {
  return Array.from({ length: n }, (_, i) => String(i + 1));
}

/** The lines of a run with so many, and a core or not. */
export const linesOf = (n, core) => (core ? ['CORE', ...numbered(n)] : numbered(n));

export const stationOf = (id) => STATIONS.find((s) => s.id === id) || null;

/**
 * What is tested of a lot of a kind, in the order in which it is measured; the quantity of each comes from its name.
 */
export const PROPERTIES = {
  rod: ['diameter_um', 'tensile_kpa', 'reduction_ppm'],
  coil: ['diameter_um', 'tensile_kpa', 'torsions', 'bends', 'zinc_mg_m2'],
  bobbin: ['diameter_um', 'tensile_kpa', 'torsions', 'bends', 'zinc_mg_m2'],
  strand: ['diameter_um', 'lay_um', 'breaking_n'],
  core: ['diameter_um', 'lay_um'],
  rope: ['diameter_um', 'lay_um', 'breaking_n'],
  reel: ['diameter_um', 'lay_um', 'breaking_n'],
};
