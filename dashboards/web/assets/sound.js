/**
 * The sound of alarms. An urgent alarm nobody has heard: two falling notes (880, 660 Hz) every 2 s. One that came
 * back unseen: one falling note every 30 s. Nothing else, and nothing before a key or a click. No sound carries what
 * the screen does not.
 */

/** Pure, so that it can be tested without a loudspeaker: notes of one call and the seconds to the next. */
export function plan(ring) {
  if (ring === 'urgent') return { every: 2, notes: [{ at: 0, hz: 880, length: .22 }, { at: .26, hz: 660, length: .34 }] };
  if (ring === 'back') return { every: 30, notes: [{ at: 0, hz: 880, to: 660, length: .5 }] };
  return { every: 0, notes: [] };
}

export class Ear {
  #context = null; #ring = ''; #timer = 0;

  get on() { return this.#context?.state === 'running'; }

  /** Only from a key press or a click: browsers keep the loudspeaker shut until then. */
  async start() {
    this.#context ??= new AudioContext();
    await this.#context.resume();
    this.#beat();
  }

  async stop() { clearTimeout(this.#timer); await this.#context?.suspend(); }

  ring(what) {
    if (what === this.#ring) return;
    this.#ring = what;
    clearTimeout(this.#timer);
    this.#beat();
  }

  #beat() {
    clearTimeout(this.#timer);
    const { every, notes } = plan(this.#ring);
    if (!every || !this.on) return;
    notes.forEach((n) => this.#note(n));
    this.#timer = setTimeout(() => this.#beat(), every * 1000);
  }

  #note({ at, hz, to = hz, length }) {
    const c = this.#context, from = c.currentTime + at;
    const voice = new OscillatorNode(c, { type: 'triangle', frequency: hz }), gain = new GainNode(c, { gain: 0 });
    voice.frequency.linearRampToValueAtTime(to, from + length);
    gain.gain.setTargetAtTime(.25, from, .008);
    gain.gain.setTargetAtTime(0, from + length, .03);
    voice.connect(gain).connect(c.destination);
    voice.start(from);
    voice.stop(from + length + .3);
  }
}
