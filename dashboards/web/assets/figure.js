/**
 * What the bench answers keeps the point and the hyphen; people read it with the mark of the bench and true minus signs.
 * The server turns its pages itself, this what a script writes into them.
 */
const hyphen = /(^|[ (:,;±\u00a0])-(?=\d)/g;

/** What stands in quotes, and a command of the program, is typed as it stands. */
function minus(words) {
  const at = words.indexOf('steadyrail ');
  const prose = at < 0 ? words : words.slice(0, at);
  return prose.split('"').map((part, i) => (i % 2 ? part : part.replace(hyphen, '$1\u2212'))).join('"') + words.slice(prose.length);
}

const figure = /(\d)\.(\d+)(?=[ \u00a0]?(?:[pnuµmkM]?(?:V|A|Ω|ohm|W|F|Hz|s)|°C|%|K|h|min)(?![\p{L}\d]))/gu;

const turn = (words, [name, ...names]) => name === undefined ? words.replace(figure, '$1,$2') : words.split(name).map((part) => turn(part, names)).join(name);

/** Words as they are read here. Names of rails are no figures. */
export function asRead(words, names = []) {
  const read = minus(words);
  if (document.body.dataset.decimal !== 'comma') return read;
  return turn(read, names.map((n) => n && minus(n)).filter(Boolean).sort((a, b) => b.length - a.length));
}
