/// What was done, in a sentence, from the line that did it. Null where the line itself says it best.

const wire = (target) => {
  const [unit, , terminal] = target.split('.');
  return terminal ? `terminal ${terminal} of ${unit}` : `contactor ${target}`;
};
const restored = (target, keys) => (!keys.startsWith('only') || keys === 'only cut' ? `the cable of ${target} is back` : `${target} is rid of ${keys.slice(5).replaceAll('_', ' ')}`);
const SENTENCES = {
  cut: (target) => `the cable of ${target} is pulled`,
  restore: restored,
  drop_requests: (target) => `requests on ${target} get lost`,
  drop_answers: (target) => `answers on ${target} get lost`,
  cycle: (target) => `${wire(target)} opens for a second, and closes`,
  open: (target) => `${wire(target)} is held open`,
  close: (target) => `${wire(target)} is held closed`,
  release: (target) => `${wire(target)} is left to its wiring`,
  power_off: (target) => `the control supply of ${target} is off`,
  power_on: (target) => `the control supply of ${target} is back`,
  local: (target, keys) => `the knob of ${target} is turned ${keys}`,
  phase_lost: (target) => `${phase(target)} is interrupted`,
  phase_back: (target) => `${phase(target)} is back`,
  dip: (target, keys) => `the voltage of ${phase(target)} goes ${keys.split(' for ')[0]}`,
  thyristor_shorted: (target) => `a thyristor of ${target} is shorted`,
  element_open: (target) => `an element of ${target} is broken`,
  fuse_open: (target) => `a fuse of ${target} has melted`,
  fan_failed: (target) => `the fan of ${target} stands still`,
  sensor_broken: (target) => `the sensor of ${target} is broken`,
  sensor_offset: (target) => `the sensor of ${target} shows something else`,
  mend: (target, keys) => (keys ? `${target} is mended: ${keys.slice(5).replaceAll('_', ' ')}` : `${target} is mended`),
  speed: (_, keys) => (keys === 'to 1' ? 'zones and walls run as real' : `zones and walls run ${keys.slice(3)} times as fast`),
};
const phase = (target) => (target === 'supply' ? 'the supply' : `phase ${target.split('.').at(-1).toUpperCase()}`);

export function doneWords(line) {
  const [word, target, ...rest] = line.split(' '), keys = rest.join(' ');
  const last = keys.match(/(?:^| )for ([\d.]+ \S+)$/), sentence = SENTENCES[word];
  return sentence && target ? `${sentence(target, keys)}${last ? `, for ${last[1]}` : ''}` : null;
}
