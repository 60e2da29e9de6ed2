/**
 * What the bench answers keeps the point; people read it with the mark of the bench. The server turns its pages itself,
 * this what a script writes into them.
 */
const figure = /(\d)\.(\d+)(?=[ \u00a0]?(?:[pnuµmkM]?(?:V|A|Ω|ohm|W|F|Hz|s)|°C|%|K|h|min)(?![\p{L}\d]))/gu;

const turn = (words, [name, ...names]) => name === undefined ? words.replace(figure, '$1,$2') : words.split(name).map((part) => turn(part, names)).join(name);

/** Words as they are read here. Names of rails are no figures. */
export function asRead(words, names = []) {
  if (document.body.dataset.decimal !== 'comma') return words;
  return turn(words, names.filter(Boolean).sort((a, b) => b.length - a.length));
}
