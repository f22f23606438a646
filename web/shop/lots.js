// What a scanned code is: a lot (with what matters of it here), an order, a machine, or nothing known.

import * as floor from './floor.js';
import { ask } from './server.js';

/** What is shown of a lot and kept with the entry that uses it. */
export const summary = (lot) => ({
  lot: lot.lot,
  kind: lot.kind,
  length_mm: lot.length_mm,
  left_mm: lot.left_mm,
  diameter_um: lot.diameter_um ?? null,
  grade: lot.grade || null,
  heats: lot.heats || (lot.heat ? [lot.heat] : []),
});

/**
 * Look a lot up: { lot, kept } (kept: the time from which that is known, when the server was not asked), { lot: null }
 * when the server knows
 * none, { lot: null, unknown: true } when it can't be asked and nothing was kept.
 */
export async function look(code) {
  const own = floor.made().get(code);
  if (own?.waits && !floor.loadedAt(code)) {
    try {
      return { lot: (await ask(`/api/lots/${encodeURIComponent(code)}`)).body, kept: null };
    } catch {
      return { lot: own, kept: null };
    }
  }
  try {
    const { body, kept } = await ask(`/api/lots/${encodeURIComponent(code)}`);
    return { lot: body, kept };
  } catch (problem) {
    if (problem.status === 404 || problem.status === 400 || problem.status === 422)
      return { lot: own || null, kept: null };
    return { lot: own || null, kept: null, unknown: !own };
  }
}

/** The orders, or none when they can't be had. */
export async function orders() {
  try {
    return (await ask('/api/orders')).body.orders || [];
  } catch {
    return [];
  }
}

/** A heat's entry body; null: not known; undefined: can't be asked. */
export async function heat(code) {
  try {
    return (await ask(`/api/things/heat/${encodeURIComponent(code)}`)).body.entry?.body || {};
  } catch (problem) {
    return problem.status === 0 || problem.status >= 500 ? undefined : null;
  }
}

/* What of a lot was released to be worked again, and may not go into any of these processes. */
function toRework(lot, processes) {
  const overlaps = ([a, b]) => (lot.left || []).some(([from, to]) => from < b && a < to);
  return (lot.holds || []).flatMap((h) =>
    (h.released || [])
      .filter((r) => r.disposition === 'rework' && (r.spans || []).some(overlaps))
      .filter((r) => !processes.some((p) => (r.into ? r.into.includes(p) : p !== 'cut')))
      .map((r) => ({ hold: h.hold, ...r })),
  );
}

/**
 * Why a lot must not be used: { why: key of the words, values, detail } or null. `processes`: what is done where it was
 * scanned; none where it would be sent; left out where it doesn't matter.
 */
export function bar(lot, t, processes = null) {
  const open = (lot.holds || []).filter(
    (h) => h.open !== false && (h.open_spans === undefined || h.open_spans.length > 0),
  );
  if (lot.state === 'on-hold' || open.length > 0) {
    return {
      why: t('bar.on-hold'),
      detail: open.map((h) => t('bar.hold-reason', { hold: h.hold || h, reason: h.reason || '' })),
      held: true,
    };
  }
  const again = processes ? toRework(lot, processes) : [];
  if (again.length > 0) {
    return {
      why: t('bar.to-rework'),
      detail: again.map((r) =>
        t('bar.rework-into', {
          into: r.into ? r.into.map((p) => t(`process.${p}`)).join(', ') : t('said.any-but-cut'),
          hold: r.hold,
          reason: r.reason,
        }),
      ),
      held: true,
    };
  }
  if (lot.state === 'dispatched')
    return {
      why: t('bar.dispatched'),
      detail: lot.consignment ? [t('bar.sent', { consignee: lot.consignment.consignee || '' })] : [],
    };
  if (lot.state === 'scrapped') return { why: t('bar.scrapped'), detail: [] };
  if (lot.state === 'consumed' || lot.left_mm === 0) {
    const feed = (lot.to || []).find((x) => x.what === 'feed');
    return {
      why: t('bar.already-consumed'),
      detail: feed ? [t('bar.used-by', { run: feed.run, machine: feed.machine || '', line: feed.line || '' })] : [],
    };
  }
  return null;
}
