/**
 * The ear of the Trim page: eyes stay on the board. What it sounds like is the server's word, in the data of #tone:
 * hertz (one voice, or the chord that stands inside the band), seconds from pip to pip (0: it stands), pips and their
 * length. This only plays it.
 */

/** Pure, so that it can be tested without a loudspeaker: the tone that an element asks for. */
export function toneOf(data) {
  if (!data?.hz) return { hz: [], every: 0, pips: 0, long: 0 };
  return { hz: data.hz.split(' ').map(Number), every: Number(data.every), pips: Number(data.pips), long: Number(data.long) };
}

const quiet = toneOf(null);

export class Screw {
  #context = null; #voices = []; #gain = null; #next = 0; #timer = 0; #tone = quiet;

  /** An element to follow, or null for silence. */
  follow(element) {
    this.#tone = element ? toneOf(element.dataset) : quiet;
    if (element && !this.#context) this.#begin();
    if (!element && this.#context) this.#end();
  }

  #begin() {
    const c = this.#context = new AudioContext();
    this.#gain = new GainNode(c, { gain: 0 });
    this.#gain.connect(c.destination);
    this.#voices = [0, 1, 2].map(() => {
      const voice = new OscillatorNode(c, { type: 'triangle', frequency: 660 }), level = new GainNode(c, { gain: 0 });
      voice.connect(level).connect(this.#gain);
      voice.start();
      return { voice, level };
    });
    this.#next = 0;
    this.#timer = setInterval(() => this.#ahead(), 50);
  }

  #end() { clearInterval(this.#timer); this.#context.close(); this.#context = null; this.#tone = quiet; }

  /** Plays what falls due in the next tenth of a second; ramps of some milliseconds, so that nothing clicks. */
  #ahead() {
    const c = this.#context, { hz, every, pips, long } = this.#tone, now = c.currentTime, g = this.#gain.gain;
    this.#voices.forEach(({ voice, level }, i) => {
      if (hz[i]) voice.frequency.setTargetAtTime(hz[i], now, .02);
      level.gain.setTargetAtTime(hz[i] ? 1 / hz.length : 0, now, .02);
    });
    if (every === 0) { g.setTargetAtTime(hz.length ? .16 : 0, now, .02); this.#next = now; return; }
    if (this.#next <= now && g.value > .01) g.setTargetAtTime(0, now, .008);
    if (this.#next > now + .1) return;
    let at = Math.max(now, this.#next);
    for (let i = 0; i < pips; i++, at += long + .05) {
      g.setTargetAtTime(.24, at, .004);
      g.setTargetAtTime(0, at + long, .008);
    }
    this.#next = Math.max(now, this.#next) + every;
  }
}

/** Says the value, where the system has a voice. A newer one cuts an older one short. */
export function speak() {
  const words = document.getElementById('tone')?.dataset.spoken, voice = globalThis.speechSynthesis;
  if (!words || !voice) return;
  voice.cancel();
  voice.speak(Object.assign(new SpeechSynthesisUtterance(words), { lang: 'en' }));
}
