/**
 * The walk: the page is one big key. Any key or click is the pedal, held for 0.6 s it skips, Backspace goes back one.
 * The server writes all words; this puts newer ones in their places at once, sounds and speaks. No sound carries what
 * the screen does not.
 */
import { asRead } from './figure.js';

const LONG = 16;   // letters from which a rail is written smaller, as the server has it
const HOLD = 600, body = document.body;

/** Pure: the notes of a sound. */
export function notes(sound) {
  if (sound === 'filed') return [{ at: 0, hz: 880, length: .12 }];
  if (sound === 'odd') return [{ at: 0, hz: 440, length: .16 }, { at: .2, hz: 311, length: .28 }];
  if (sound === 'lift') return [{ at: 0, hz: 165, length: .1 }];
  if (sound === 'done') return [{ at: 0, hz: 660, length: .1 }, { at: .13, hz: 880, length: .1 }, { at: .26, hz: 1047, length: .2 }];
  return [];
}

/** Pure: what a key does, or nothing. Keys that move the focus or belong to the browser stay theirs. */
export function pressOf(key, held) {
  if (['Tab', 'Shift', 'Control', 'Alt', 'Meta', 'AltGraph', 'CapsLock', 'Escape'].includes(key) || /^F\d+$/.test(key)) return '';
  if (key === 'Backspace') return 'again';
  return held >= HOLD ? 'skip' : 'press';
}

let sounds = null, loud = null;   // loud: not before a key or a click, browsers insist
function wake() { loud ??= new AudioContext(); loud.resume(); }

function play(sound) {
  if (loud?.state !== 'running') return;
  for (const { at, hz, length } of notes(sound)) {
    const from = loud.currentTime + at;
    const voice = new OscillatorNode(loud, { type: 'triangle', frequency: hz }), gain = new GainNode(loud, { gain: 0 });
    gain.gain.setTargetAtTime(.3, from, .006);
    gain.gain.setTargetAtTime(0, from + length, .03);
    voice.connect(gain).connect(loud.destination);
    voice.start(from);
    voice.stop(from + length + .3);
  }
}

function speak(text) {
  if (!text || !loud || !('speechSynthesis' in window)) return;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(text);
  words.lang = 'en';
  speechSynthesis.speak(words);
}

function show(v) {
  const stands = document.querySelector('.walk');
  if (v.active && stands?.dataset.active !== 'true' || !v.active && stands?.dataset.active === 'true') { location.reload(); return; }
  if (stands) stands.dataset.state = v.word;
  const names = v.rows.map((row) => row.rail);
  for (const place of document.querySelectorAll('[data-walk]')) {
    const text = asRead(String(v[place.dataset.walk] ?? ''), names);
    if (place.textContent !== text) place.textContent = text;
    if (place.dataset.walk === 'rail') place.classList.toggle('long', [...text].length > LONG);
  }
  if (sounds && v.voice.sounds !== sounds.sounds) play(v.voice.sound);
  if (sounds && v.voice.says !== sounds.says) speak(v.voice.say);
  sounds = v.voice;
}

async function follow() {
  for (let after = 0; ;) {
    try {
      const answer = await fetch(`/api/v1/walk?job=${encodeURIComponent(body.dataset.job)}&after=${after}`);
      if (!answer.ok) throw new Error(answer.statusText);
      const v = await answer.json();
      if (v.seq) show(v);
      after = v.seq;
      if (!v.seq || !v.active) await new Promise((go) => setTimeout(go, 1000));
    } catch {
      await new Promise((go) => setTimeout(go, 2000));   // the page says by itself that there is no connection
    }
  }
}

async function press(what) {
  wake();
  const said = document.getElementById('said');
  try {
    const answer = await fetch('/api/v1/walk', {
      method: 'POST', headers: { 'Content-Type': 'application/json', 'X-Steadyrail-Nonce': body.dataset.nonce },
      body: JSON.stringify({ job: body.dataset.job, do: what }),
    });
    const words = await answer.json();
    said.hidden = answer.ok; said.classList.toggle('bad', !answer.ok);
    if (!answer.ok) said.textContent = asRead([words.detail, words.hint].filter(Boolean).join('. '));
  } catch {
    said.hidden = false; said.classList.add('bad');
    said.textContent = 'No connection to the bench: the press did not arrive.';
  }
}

const walking = () => document.querySelector('.walk[data-active="true"] [data-press]');
const typing = (e) => e.target.closest?.('input, textarea, select, [contenteditable]');
let down = 0;
addEventListener('keydown', (e) => {
  if (!walking() || typing(e) || e.ctrlKey || e.metaKey || e.altKey || !pressOf(e.key, 0)) return;
  e.preventDefault();
  e.stopImmediatePropagation();   // no other key of the page: this one is the pedal
  if (!e.repeat) down = performance.now();
}, true);
addEventListener('keyup', (e) => {
  const what = pressOf(e.key, performance.now() - down);
  if (!walking() || !down || !what) return;
  e.preventDefault();
  e.stopImmediatePropagation();
  down = 0;
  press(what);
}, true);
let touched = 0;
addEventListener('pointerdown', (e) => { touched = e.target.closest?.('.walk') && !e.target.closest('button, a, summary, form') ? performance.now() : 0; });
addEventListener('pointerup', () => {
  if (touched && walking()) press(pressOf(' ', performance.now() - touched));
  touched = 0;
});
addEventListener('click', (e) => {
  const button = e.target.closest?.('[data-press]');
  if (button) press(button.dataset.press);
});
follow();
