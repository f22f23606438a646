// Small mills for the tests: one heat in one weld's doubt on two bobbins, and one with as many lots as asked.

const at = (minute) => new Date(Date.UTC(2026, 1, 3, 6, 0) + minute * 60000).toISOString().replace('.000Z', 'Z');
const key = (i) => `00000000-0000-4000-8000-${String(i).padStart(12, '0')}`;

const lines = (entries) =>
  entries
    .map((e, i) => JSON.stringify({ key: key(i + 1), at: at(i), ...e }))
    .join('\n')
    .concat('\n');

/**
 * Heats H-A and H-B, a coil of each, welded and drawn to three bobbins of 20 km; bobbin BB-1 is stranded and cut to two
 * reels, one of them sent out. A recall of H-A names BB-1 whole and BB-2 from 0 to 9,700 m surely, to 10,300 m
 * possibly.
 */
export function smallMill() {
  return lines([
    { kind: 'heat', body: { heat: 'H-A', supplier: 'Northmark Steel', grade: 'C82D' } },
    { kind: 'heat', body: { heat: 'H-B', supplier: 'Northmark Steel', grade: 'C82D' } },
    { kind: 'receive', body: { lot: 'RC-1', heat: 'H-A', diameter_um: 5500, length_mm: 10000000, location: 'YARD 1' } },
    { kind: 'receive', body: { lot: 'RC-2', heat: 'H-B', diameter_um: 5500, length_mm: 10000000, location: 'YARD 1' } },
    {
      kind: 'run',
      body: {
        run: 'DR-1',
        process: 'draw',
        machine: 'BLOCK-3',
        tolerance_ppm: 10000,
        lines: [{ line: '1', feeds: [{ lot: 'RC-1' }, { lot: 'RC-2', weld: 'W-1' }] }],
        packages: ['BB-1', 'BB-2', 'BB-3'].map((lot) => ({
          lot,
          kind: 'bobbin',
          length_mm: 20000000,
          diameter_um: 3175,
          location: `RACK ${lot.slice(-1)}`,
        })),
      },
    },
    {
      kind: 'test',
      body: {
        test: 'T-1',
        lot: 'BB-2',
        at_mm: 19000000,
        sample_mm: 1000,
        instrument: 'TT-2',
        results: { tensile_kpa: 1812000, torsions: 31 },
        verdict: 'pass',
      },
    },
    {
      kind: 'test',
      body: {
        test: 'T-2',
        lot: 'BB-3',
        at_mm: 10000000,
        sample_mm: 1000,
        instrument: 'TT-2',
        results: { tensile_kpa: 1402000 },
        verdict: 'fail',
      },
    },
    {
      kind: 'run',
      body: {
        run: 'CL-1',
        process: 'strand',
        machine: 'STR-1',
        lines: [{ line: '1', feeds: [{ lot: 'BB-1' }] }],
        packages: [{ lot: 'ST-1', kind: 'strand', length_mm: 19000000 }],
      },
    },
    {
      kind: 'run',
      body: {
        run: 'CU-1',
        process: 'cut',
        machine: 'CUT-1',
        lines: [{ line: '1', feeds: [{ lot: 'ST-1' }] }],
        packages: [
          { lot: 'RL-1', kind: 'reel', length_mm: 9000000, location: 'DOCK' },
          { lot: 'RL-2', kind: 'reel', length_mm: 10000000, location: 'DOCK' },
        ],
      },
    },
    { kind: 'dispatch', body: { consignment: 'DN-1', consignee: 'Alder Lifts', lots: ['RL-1'] } },
  ]);
}

/**
 * One heat on `coils` coils, each drawn to `bobbins` bobbins: coils x (bobbins + 1) lots that a recall of H-BIG names.
 */
export function bigMill(coils, bobbins) {
  const entries = [{ kind: 'heat', body: { heat: 'H-BIG', supplier: 'Northmark Steel', grade: 'C82D' } }];
  for (let i = 1; i <= coils; i += 1) {
    entries.push({ kind: 'receive', body: { lot: `RC-${i}`, heat: 'H-BIG', diameter_um: 5500, length_mm: 10000000 } });
    entries.push({
      kind: 'run',
      body: {
        run: `DR-${i}`,
        process: 'draw',
        machine: 'BLOCK-3',
        lines: [{ line: '1', feeds: [{ lot: `RC-${i}` }] }],
        packages: Array.from({ length: bobbins }, (_, k) => ({
          lot: `BB-${i}-${k + 1}`,
          kind: 'bobbin',
          length_mm: 300000,
          diameter_um: 3175,
          location: `RACK ${1 + (k % 12)}`,
        })),
      },
    });
  }
  return lines(entries);
}

/** Text that would do harm if a page took it for markup. */
export const HARM = [
  '<img src=x onerror="window.harmed=1">',
  '"><script>window.harmed=1</script>',
  'javascript:window.harmed=1',
  '</textarea><svg onload="window.harmed=1">',
  '{{constructor.constructor("window.harmed=1")()}}',
];
