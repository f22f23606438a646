// Codes: what may be one, and the next free one of a run, a package or a test.

export { codeOf as asCode } from './scan.js';

const two = (n) => String(n).padStart(2, '0');

/** "BLOCK-3" on 25 November 2026, with A taken: "BLOCK-3-261125B". `taken(code)`: whether there is one already. */
export function nextDaily(stem, now, taken) {
  const day = `${two(now.getFullYear() % 100)}${two(now.getMonth() + 1)}${two(now.getDate())}`;
  for (let i = 0; ; i += 1) {
    const letter = i < 26 ? String.fromCharCode(65 + i) : `Z${i - 25}`;
    const code = `${stem.slice(0, 28)}-${day}${letter}`;
    if (!taken(code)) return code;
  }
}

/** The code of a run's next package: its own and a number, "RUN-01". */
export function nextPackage(run, taken) {
  for (let i = 1; ; i += 1) {
    const code = `${run}-${two(i)}`;
    if (!taken(code)) return code;
  }
}
