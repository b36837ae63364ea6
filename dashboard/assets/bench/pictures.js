// Small drawings: every fault on a print, and where on the garment the print sits. The print is a
// square with its edge dashed; what is wrong is drawn strong.
const print = '<rect class="p" x="9" y="9" width="30" height="30" rx="2"/>';
const shirt = '<path class="p" d="M17 9 24 13 31 9 42 16 37 23 34 21V40H14V21L11 23 6 16Z"/>';

const MARKS = {
  lifted_edge: '<path class="p" d="M28 9H11a2 2 0 0 0-2 2v26a2 2 0 0 0 2 2h26a2 2 0 0 0 2-2V20"/><path class="s f" d="M28 9 39 20 29 19Z"/><path class="s" d="M31 5q8 1 12 9"/>',
  incomplete_cure: print + '<path class="s" d="M14 34 34 14M14 26 26 14M22 34 34 22" stroke-dasharray="3 4"/>',
  scorch: print + '<path class="s f" d="M24 35c-6 0-9-4-7-9 1-3 4-4 4-10 5 2 6 6 6 9 1-1 2-2 2-4 4 5 4 14-5 14Z"/>',
  press_mark: '<rect class="s" x="4" y="4" width="40" height="40" rx="1"/><rect class="p" x="15" y="15" width="18" height="18" rx="2"/>',
  misplacement: '<rect class="p" x="6" y="8" width="26" height="26" rx="2"/><rect class="s" x="16" y="14" width="26" height="26" rx="2"/>',
  rotated: print + '<rect class="s" x="11" y="11" width="26" height="26" rx="2" transform="rotate(14 24 24)"/>',
  wrong_garment: shirt + '<path class="s" d="M19 24 29 34M29 24 19 34"/>',
  wrong_art: print + '<path class="s" d="M30 16v17M30 16h-6a4.500 4.500 0 0 0 0 9h6M24 25l-6 8"/>',
  missing_element: print + '<circle class="s" cx="28" cy="21" r="6.500" stroke-dasharray="3 3"/>',
  contamination: print + '<path class="s" d="M14 30q4-10 8-3t8-4 4-6"/><circle class="f" cx="17" cy="18" r="2"/>',
  bubble: print + '<circle class="s" cx="20" cy="27" r="6"/><circle class="s" cx="31" cy="19" r="3.500"/>',
  wrinkle: print + '<path class="s" d="M12 19q4-5 8 0t8 0 8 0M12 30q4-5 8 0t8 0 8 0"/>',
  carrier_residue: print + '<path class="f" d="M36 6h6v4h-6zM5 30h5v6H5zM30 40h7v4h-7z"/><path class="s" d="M40 20h4M6 17h4"/>',
  adhesive_halo: '<rect class="s" x="5" y="5" width="38" height="38" rx="8" stroke-dasharray="2 3"/><rect class="p" x="12" y="12" width="24" height="24" rx="2"/>',
  dye_migration: print + '<path class="s f" d="M17 33c-4 0-4-5 0-10 4 5 4 10 0 10ZM29 27c-4 0-4-5 0-10 4 5 4 10 0 10Z"/>',
  wash_crack: print + '<path class="s" d="M12 16l6 4 4-3 6 6 8-4M14 33l5-5 6 3 6-4 5 3"/>',
  colour_shift: print + '<path class="f" d="M24 9h13a2 2 0 0 1 2 2v26a2 2 0 0 1-2 2H24Z"/>',
  seam_imprint: print + '<path class="s" d="M21 5v38M27 5v38" stroke-dasharray="4 3"/>',
  ghost_image: '<rect class="p" x="7" y="7" width="26" height="26" rx="2"/><rect class="s" x="12" y="12" width="26" height="26" rx="2" stroke-dasharray="5 3"/><path class="s" d="M36 42h6v-6"/>',
  torn_transfer: '<path class="p" d="M20 9h-9a2 2 0 0 0-2 2v26a2 2 0 0 0 2 2h9M31 9h6a2 2 0 0 1 2 2v26a2 2 0 0 1-2 2h-6"/><path class="s" d="M24 7l-4 8 7 7-6 7 6 6-4 7"/>',
  crushed_pile: '<path class="p" d="M10 40h28M14 40v-6M20 40v-6M26 40v-6M32 40v-6"/><path class="s" d="M24 7v17M17 18l7 7 7-7"/>',
  garment_damage: shirt + '<path class="s f" d="M20 27l4-3 5 3-1 5-6 1Z"/>',
  odour_residue: print + '<path class="s" d="M17 34q-5-5 0-10t0-10M25 34q-5-5 0-10t0-10M33 34q-5-5 0-10t0-10"/>',
  count_short: '<path class="p" d="M8 36h22v5H8zM8 28h22v5H8zM8 20h22v5H8z"/><path class="s" d="M30 12h13"/>',
  foreign_object: print + '<path class="s" d="M14 34 33 15"/><circle class="f" cx="34" cy="14" r="4"/>',
  label_covered: '<path class="p" d="M14 6h20v32l-10 5-10-5Z"/><path class="s f" d="M9 17h30v12H9z"/>',
};
const OWN = print + '<path class="s" d="M19 19a5 5 0 1 1 7 5q-2 1-2 4M24 33v1"/>';

// The fault's picture as SVG text: constants alone, nothing of the shop's own in it.
export function picture(kind) {
  return '<svg viewBox="0 0 48 48" aria-hidden="true">' + (MARKS[kind] || OWN) + "</svg>";
}

const SPOTS = [
  [/left.?chest/, '<rect class="f" x="27" y="19" width="6" height="6"/>'],
  [/right.?chest/, '<rect class="f" x="15" y="19" width="6" height="6"/>'],
  [/sleeve/, '<rect class="f" x="35" y="14" width="5" height="6" transform="rotate(35 37 17)"/>'],
  [/hood|neck|nape/, '<rect class="f" x="21" y="14" width="6" height="4"/>'],
  [/leg|pocket/, '<rect class="f" x="17" y="33" width="5" height="5"/>'],
  [/back|front|full/, '<rect class="f" x="17" y="19" width="14" height="15"/>'],
];

export function garment(place) {
  const spot = SPOTS.find(([words]) => words.test(place || ""));
  return '<svg viewBox="0 0 48 48" aria-hidden="true">' + shirt +
    (spot ? spot[1] : '<rect class="f" x="20" y="22" width="8" height="8"/>') + "</svg>";
}
