"""How many words a page shows without a tap: what is folded, hidden or only for screen readers does not count.

A word is what stands between blanks and holds a letter or a digit. Cautions are told apart, by their own text.
"""

import re
from collections.abc import Sequence

from playwright.sync_api import Page

SHOWN = r"""(apart) => {
  const tiny = (element) => {
    for (let at = element; at && at !== document.body; at = at.parentElement) {
      const box = at.getBoundingClientRect();
      if (getComputedStyle(at).overflowX === 'hidden' && box.width <= 1.5 && box.height <= 1.5) return true;
    }
    return false;
  };
  const found = [];
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const node = texts.currentNode;
    const words = node.textContent.trim();
    const seen = { contentVisibilityAuto: true, visibilityProperty: true };
    if (!words || !node.parentElement.checkVisibility(seen)) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getBoundingClientRect();
    if (!box.width || box.right < 0 || tiny(node.parentElement)) continue;
    if (apart.some((caution) => caution.includes(words) || words.includes(caution))) continue;
    found.push(...words.split(/\s+/).filter((word) => /[\p{L}\p{N}]/u.test(word)));
  }
  return found;
}"""


def words_shown(page: Page, cautions: Sequence[str] = ()) -> list[str]:
    """Every word that can be read on the page by scrolling alone, `cautions` apart."""
    found: list[str] = page.evaluate(SHOWN, list(cautions))
    return found


def words_of_faults(page: Page) -> int:
    """How many of them tell of a fault before: what is wrong takes the words that it takes."""
    return len(re.findall(r"\S*\w\S*", " ".join(page.locator(".before").all_inner_texts())))
