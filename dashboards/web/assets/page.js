/**
 * What every screen does: keys, room light, the stream of changes, the sound. The server writes all words; this puts
 * newer ones in the same places. Without it the page is right, only older.
 */
import { morph } from './morph.js';
import { Ear } from './sound.js';
import { Screw, speak } from './screw.js';
import { asRead } from './figure.js';

const root = document.documentElement, body = document.body, lost = document.getElementById('lost');
const keep = (key, value) => { try { localStorage.setItem(key, value); } catch { /* storage may be forbidden */ } };

/* ---------- room light ---------- */

for (const button of document.querySelectorAll('[data-act="room"]')) {
  button.addEventListener('click', () => {
    const dark = root.dataset.theme ? root.dataset.theme === 'dark' : matchMedia('(prefers-color-scheme: dark)').matches;
    root.dataset.theme = dark ? 'light' : 'dark';
    keep('steadyrail.room', root.dataset.theme);
  });
}

/* ---------- sound: off until a key or a click, and the masthead says so ---------- */

const ear = new Ear(), soundButtons = document.querySelectorAll('[data-act="sound"]');
const tellSound = () => soundButtons.forEach((b) => { b.setAttribute('aria-pressed', ear.on); b.textContent = ear.on ? 'Sound on' : 'Sound off'; });
const screw = new Screw();
const toggleSound = async () => { await (ear.on ? ear.stop() : ear.start()); tellSound(); listen(); };
const listen = () => {
  const ring = document.getElementById('ring')?.dataset.ring ?? '', tone = document.getElementById('tone');
  ear.ring(ring);
  screw.follow(ear.on && ring !== 'urgent' && lost.hidden ? tone : null);   // an alarm beats it, and so does silence of the bench
};
soundButtons.forEach((b) => b.addEventListener('click', toggleSound));

/* ---------- keys: never while someone types, never with a modifier ---------- */

const typing = (e) => e.target.closest?.('input, textarea, select, [contenteditable]');
addEventListener('keydown', (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey || typing(e)) return;
  if (e.key === ' ') {
    const main = document.querySelector('[aria-keyshortcuts="Space"]');
    if (!main || e.target.closest?.('button, a, summary')) return;   // there the space bar presses what has the focus
    e.preventDefault();
    if (!e.repeat) main.click();
  } else if (e.key === 'o' || e.key === 'O') {   // asks first: the button that acts is another one
    const ask = document.querySelector('.ask');
    if (ask) { ask.open = !ask.open; ask.querySelector(ask.open ? 'button' : 'summary').focus(); }
  } else if (e.key === 't' || e.key === 'T') {   // the first meter that waits for a touch
    document.querySelector('.asks [aria-keyshortcuts="t"]')?.click();
  } else if (e.key === 's' || e.key === 'S') {
    toggleSound();
  } else if (e.key === 'n' || e.key === 'N') {
    e.preventDefault();
    const note = document.getElementById('note');
    note ? note.focus() : location.assign('/job#note');
  } else if (e.key === 'e' || e.key === 'E') {   // then the rail's number, Tab, the digits, Enter
    e.preventDefault();
    openEntry() || location.assign('/job#entry');
  } else if (document.getElementById('tone') && !e.repeat && !/^(Tab|Shift|Escape|F\d+|Arrow.*|[1-9])$/.test(e.key)) {   // any other key, a pedal's too
    speak();
  } else if (/^[1-9]$/.test(e.key)) {
    document.querySelector(`.mast nav a[aria-keyshortcuts="${e.key}"]`)?.click();
  }
});
function openEntry() {
  const entry = document.getElementById('entry');
  if (!entry) return false;
  document.getElementById('by-eye').open = true;
  entry.focus();
  return true;
}
if (location.hash === '#entry') openEntry();
if (location.hash === '#note') document.getElementById('note')?.focus();

document.querySelector('[data-act="speak"]')?.addEventListener('click', speak);

/* ---------- acts that keep the page: heard, reset latch, outputs, taps ---------- */

const said = document.getElementById('said');
let hush = 0;
const tell = (words, bad) => {
  clearTimeout(hush);
  said.textContent = asRead(words); said.hidden = !words; said.classList.toggle('bad', Boolean(bad));
  if (!bad) hush = setTimeout(() => { said.hidden = true; }, 6000);
};

addEventListener('submit', async (e) => {
  if (!e.target.matches('form[data-live]')) return;
  e.preventDefault();
  const fields = new URLSearchParams(new FormData(e.target, e.submitter)), { submitter } = e;
  if (e.target.dataset.live) tell(e.target.dataset.live);
  if (submitter) submitter.disabled = true;
  try {
    const action = e.target.getAttribute('action');
    const answer = await (action === '/acts' ? fetch('/api/v1/acts', {
      method: 'POST', headers: { 'Content-Type': 'application/json', 'X-Steadyrail-Nonce': fields.get('nonce') },
      body: JSON.stringify({ job: fields.get('job'), verb: fields.get('verb'), subject: fields.get('subject'), text: fields.get('text') ?? undefined, value: fields.has('value') ? Number(fields.get('value')) : undefined }),
    }) : fetch(action, { method: 'POST', headers: { Accept: 'application/json' }, body: fields, redirect: 'manual' }));
    if (answer.type === 'opaqueredirect') tell('Done.');
    else {
      const words = await answer.json();
      tell(answer.ok ? words.say : [words.detail, words.hint].filter(Boolean).join('. '), !answer.ok);
    }
  } catch {
    tell('No connection to the bench: nothing was recorded.', true);
  } finally {
    if (submitter) submitter.disabled = false;
  }
});

/* ---------- the stream ---------- */

const lostAge = document.getElementById('lost-age');
let stream = null, heardAt = performance.now(), held = false;

function open() {
  if (stream) return;
  const q = new URLSearchParams({ page: body.dataset.page });
  if (body.dataset.asked) q.set('job', body.dataset.asked);
  if (body.dataset.rail) q.set('rail', body.dataset.rail);
  if (body.dataset.span) q.set('span', body.dataset.span);
  stream = new EventSource('/api/v1/stream?' + q);
  stream.addEventListener('page', (e) => { heardAt = performance.now(); show(JSON.parse(e.data)); });
  stream.addEventListener('error', () => { if (stream?.readyState === EventSource.CLOSED) { stream = null; setTimeout(open, 2000); } });
}
function close() { stream?.close(); stream = null; }

function show({ title, parts, job }) {
  if (job !== body.dataset.job) { location.reload(); return; }   // another job is in hand: the frame itself is old
  if (title) document.title = title;
  for (const [id, html] of Object.entries(parts ?? {})) {
    const place = document.getElementById(id);
    if (place) morph(place, html);
  }
  body.classList.toggle('alarm', Boolean(document.querySelector('.shout')));
  listen();
}

// A page that hears nothing must say so: an old number is worse than none.
setInterval(() => {
  const silent = (performance.now() - heardAt) / 1000;
  const gone = Boolean(stream) && silent > 4 && !document.hidden;
  if (lost.hidden === gone) { lost.hidden = !gone; listen(); }
  body.classList.toggle('stale', gone);
  if (gone) lostAge.textContent = `${Math.round(silent)} s old`;
}, 1000);

// Browsers allow six connections to one host. A page nobody looks at gives its stream up, except one that keeps
// listening for alarms.
const settle = () => { document.hidden && !held ? close() : open(); };
document.addEventListener('visibilitychange', () => { if (!document.hidden) heardAt = performance.now(); settle(); });
addEventListener('pagehide', close);
addEventListener('pageshow', settle);
navigator.locks?.request('steadyrail.ear', () => { held = true; settle(); return new Promise(() => {}); }).catch(() => {});
open();
root.classList.add('alive');   // keys and stream are in force
