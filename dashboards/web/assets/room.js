// Runs before the first paint, so that a dim room never flashes white.
// ?theme=dark|light fixes the room for one page.
(function () {
  var asked = new URLSearchParams(location.search).get('theme'), kept = null;
  try { kept = localStorage.getItem('steadyrail.room'); } catch (e) { /* storage may be forbidden */ }
  if (asked === 'dark' || asked === 'light') kept = asked;
  if (kept) document.documentElement.dataset.theme = kept;
  document.documentElement.classList.add('scripted');
})();
