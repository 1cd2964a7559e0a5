// Every element that the program touches, by its id: `target-swatch` is `elements.targetSwatch`.
const IDS = `
  bench-name places watch connection flags-mark coat-mark alert alert-words alert-close announcer
  place cautions cautions-all cautions-line cautions-list
  mixing-place mixing-title first first-steps match match-colour swatches target-swatch live-swatch
  judgement de00 live-u95 verdict verdict-mark verdict-word direction live-note live-warnings measure match-next
  doses advice-words advice-why poured poured-hint cup-words cup-contents undo undo-words cup-new
  batch-form addition-form paint-names what-if-form what-if-answer thinning-form thinning-unit
  figure-plane plane-words plane l-bar l-words white-words target-name target-l target-a target-b
  live-l live-a live-b readings target-new target-form target-lab first-board first-dark first-white
  measure-hint target-placed placed-words placed-fault placed-take placed-rows placed-use placed-clear surface-form surface-coat
  surface-words amount-form amount-answer again-form again-unit again-answer card-link more-again
  efflux-form efflux-unit efflux-answer recipe-fault recipe-total recipe-free aim-words aim-fault aim-act took-form
  took-unit took-answer
  first-target first-dark-act first-white-act
  booth-place coat coat-form coat-brief coat-kept sprayed-unit airbrush-form airbrush-words airbrush-cleaned part-form part-temperature-form
  part-temperature-unit part-temperature-words pot-words purge-assumed rh-corrected piece-form piece-words piece-names coat-running coat-words coat-since coat-end sign sign-list
  sign-form signed flags-sheet no-flags flags name-form booth-numbers margin_k film-margin air_c
  rh_pct part_c dew-kind dew_point_c booth_pressure_pa air_speed_ms film-words film-advice
  film-assumed forecast-words recoat-words fan-words purge-words cartridge-words span-2 span-12
  strips air-form air-sprayed-unit air-answer booth-now booth-form cartridge-now cartridge-log cartridge-form
  coats-place coats-list-view coats-filter coats-compare coats-count coats-list coats-one-view coats-print
  coats-one
  looking-back-place back-first back-second back-table findings findings-none finding-form defect-shown
  review defects-open defects-all evenings-none evenings-legend evenings-unit evenings-more calendar good-words good-table
  association-words association-table drift-list drift-none coats-only
  shelf-place paints-none paints paint-new paint-form targets-none targets reducers-none reducers
  reducer-new reducer-form solvent-rows solvent-more solvent-names guide-first paint-correcting sheet-details sheet-form
  sheet-answer label-details label-form label-rows label-more label-answer targets-beside
  shades shade-names shelf-target-form shelf-target-munsell shelf-target-lab shelf-target-answer photo-form photo-pictures photo-answer
  instruments-place calibration-words calibration-steps calibrate-gain tile-form tile-words devices-none
  devices notices-none notices calibration-dark
  calibration-white calibrate-dark calibrate-white calibration-due calibration-holds tile-used
  chart chart-words chart-run chart-now chart-fault chart-measure chart-skip chart-finish chart-list chart-all chart-form
  chart-kept patch-form patch-lab patch-spectrum patch-kept
  check-words check-form check-figure check-chart check-summary check-table check-ever common-chart common-form common-source common-kept
  settings-place settings-form wake-words store-words store-warnings store-check store-checked store-found
  export-form export-link flags-past flags-past-table
`.trim().split(/\s+/);

export const camel = (id) => id.replace(/[-_](\w)/g, (_, letter) => letter.toUpperCase());

export const elements = Object.fromEntries(IDS.map((id) => [camel(id), document.getElementById(id)]));
