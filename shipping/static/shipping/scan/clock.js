// Time on a phone (ledger P2): the server's clock less ours, and stamps that never go back. Pure.

/**
 * What one contact tells of the offset: the server's clock against the middle of the round trip.
 * @param {number} sent @param {number} back both by our own clock, in ms @param {number} server its clock, in ms
 */
export function measured(sent, back, server) {
  return { offset: Math.round(server - (sent + back) / 2), trip: Math.max(0, back - sent) };
}

/**
 * The better of two measurements: the shorter round trip. Where the two cannot both be true, our clock was set anew
 * since, and the newer one counts.
 */
export function better(known, fresh) {
  if (!known) return fresh;
  const apart = Math.abs(known.offset - fresh.offset);
  const cannotBothBe = apart > (known.trip + fresh.trip) / 2 + 1;
  return cannotBothBe || fresh.trip <= known.trip ? fresh : known;
}

/** The moment of a scan: our clock put right, and later than the last one. All in ms. */
export function stamp(own, offset, last) {
  return Math.max(own + (offset || 0), last + 1);
}
