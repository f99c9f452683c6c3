// Runs before anything is drawn, so that a page does not flash in the other look first.
(() => {
  const KEY = 'emberline-look';
  const root = document.documentElement;
  const kept = () => {
    try {
      return localStorage.getItem(KEY) || 'auto';
    } catch (refused) {
      return 'auto'; // a browser that keeps nothing follows the system
    }
  };
  const wear = (look) => {
    if (look === 'light' || look === 'dark') root.dataset.look = look;
    else delete root.dataset.look;
    root.dispatchEvent(new Event('look'));
  };
  wear(kept());
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => wear(kept()));
  addEventListener('DOMContentLoaded', () => {
    const choice = document.getElementById('theme');
    choice.value = kept();
    choice.addEventListener('change', () => {
      try {
        localStorage.setItem(KEY, choice.value);
      } catch (refused) {
        // it lasts as long as this page, then
      }
      wear(choice.value);
    });
  });
})();
