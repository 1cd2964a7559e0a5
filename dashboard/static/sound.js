// Two short tones for a flag, four for a stop; the browser lets them sound after a first touch.
let context = null;

export function beep(stop) {
  context ??= new AudioContext();
  const start = context.currentTime + 0.02;
  for (let at = 0; at < (stop ? 4 : 2); at += 1) {
    const tone = context.createOscillator();
    const loud = context.createGain();
    tone.frequency.value = stop ? 880 : 620;
    loud.gain.value = 0.2;
    tone.connect(loud).connect(context.destination);
    tone.start(start + at * 0.3);
    tone.stop(start + at * 0.3 + 0.18);
  }
}
