// Where this terminal stands: its station, the machine in front of it, its name. Chosen once and kept in the browser.

import { stationOf } from './stations.js';

const KEPT = { station: 'kinwire.station', machine: 'kinwire.machine', name: 'kinwire.terminal' };

const keptOf = (what) => localStorage.getItem(KEPT[what]);

/** The station's row; null until one has been chosen. An address with ?station= chooses it. */
export function station() {
  const asked = stationOf(new URLSearchParams(location.search).get('station'));
  if (asked && asked.id !== keptOf('station')) setStation(asked.id);
  return asked || stationOf(keptOf('station'));
}

export function setStation(id) {
  localStorage.setItem(KEPT.station, id);
  localStorage.removeItem(KEPT.machine);
}

export const machine = () => keptOf('machine');
export const setMachine = (code) => localStorage.setItem(KEPT.machine, code);

/** The terminal's name, as its entries carry it; a code. */
export const name = () => keptOf('name');
export const setName = (code) => localStorage.setItem(KEPT.name, code);

/** Small things remembered for next time (number of lines of a machine, the last supplier). */
export function remembered(what) {
  try {
    return JSON.parse(localStorage.getItem(`kinwire.last.${what}`));
  } catch {
    return null;
  }
}
export const remember = (what, value) => localStorage.setItem(`kinwire.last.${what}`, JSON.stringify(value));
