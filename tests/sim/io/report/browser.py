#!/usr/bin/env python3
"""Opens HTML reports in a browser: browser.py BROWSER EMBERLINE ROOT

A page must draw without an error on the console, ask nothing of a network, show every plot inside of its picture, and
print. BROWSER is a Chromium. Prints one line for each fault and exits 1.
"""
import os
import re
import subprocess
import sys
import tempfile

STORIES = ["scenarios/cable-pulled-latch.yaml", "scenarios/must-fail/comes-back-heating.yaml"]
QUIET = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
         "--disable-sync", "--no-first-run", "--disable-default-apps", "--disable-extensions", "--enable-logging=stderr",
         "--host-resolver-rules=MAP * ~NOTFOUND"]
# Told on the console, for want of scripts in the page itself.
OUTSIDE = """<script>
for (const plot of document.querySelectorAll('svg.plot')) {
  const box = plot.getBoundingClientRect();
  for (const part of plot.querySelectorAll('text, path, rect')) {
    const own = part.getBoundingClientRect();
    if (own.left < box.left - 2 || own.right > box.right + 2 || own.top < box.top - 2 || own.bottom > box.bottom + 2)
      console.error('outside of its plot: ' + (part.textContent || part.getAttribute('class')));
  }
}
if (document.documentElement.scrollWidth > window.innerWidth) console.error('wider than the window');
</script>"""


def browse(browser, page, folder, *options):
    """What the console said, and what was asked of the network."""
    log = os.path.join(folder, "net.json")
    profile = tempfile.mkdtemp(dir=folder)
    run = subprocess.run([browser, *QUIET, f"--user-data-dir={profile}", f"--log-net-log={log}", *options,
                          "file://" + page], capture_output=True, text=True, timeout=240, check=False)
    said = re.findall(r"CONSOLE[^\n]*", run.stderr)
    # What the browser asks for itself has no page as its initiator.
    with open(log, encoding="utf-8") as file:
        asked = sorted(set(re.findall(r'"initiator":"(?!not an origin)[^\n]*"url":"((?:https?|wss?)://[^"]*)"', file.read())))
    return run.stdout, said, asked


def with_part(page, part):
    """The page with something put in, and the policy that would keep it out taken away."""
    with open(page, encoding="utf-8") as file:
        text = re.sub(r"<meta http-equiv[^>]*>", "", file.read())
    changed = page.replace(".html", f"-{len(part)}.html")
    with open(changed, "w", encoding="utf-8") as file:
        file.write(text.replace("</body>", part + "</body>"))
    return changed


def main(browser, emberline, root):
    faults = []
    with tempfile.TemporaryDirectory() as folder:
        page = os.path.join(folder, "report.html")
        subprocess.run([emberline, "rehearse", *(os.path.join(root, story) for story in STORIES), "--report", page],
                       capture_output=True, check=False)
        drawn, said, asked = browse(browser, page, folder, "--dump-dom")
        faults += [f"on the console: {line}" for line in said] + [f"asked of the network: {url}" for url in asked]
        if drawn.count('<svg class="plot"') < 2 * len(STORIES):
            faults.append("plots are missing")
        # The same look has to find what is put into the page on purpose.
        _, said, _ = browse(browser, with_part(page, "<script>nowhere.to_be_found();</script>"), folder, "--dump-dom")
        if not said:
            faults.append("an error on the console would not be seen")
        _, _, asked = browse(browser, with_part(page, '<img src="http://192.0.2.1/x.png">'), folder, "--dump-dom")
        if not asked:
            faults.append("a request over the network would not be seen")
        for width in (1180, 420):
            _, said, _ = browse(browser, with_part(page, OUTSIDE), folder, "--dump-dom", f"--window-size={width},900")
            faults += [f"{width} pixels wide: {line}" for line in said]
        paper = os.path.join(folder, "report.pdf")
        browse(browser, page, folder, f"--print-to-pdf={paper}", "--no-pdf-header-footer")
        if not os.path.exists(paper) or open(paper, "rb").read(5) != b"%PDF-":
            faults.append("it does not print")
    for fault in faults:
        print(fault)
    print(f"{len(faults)} faults in a report in {os.path.basename(browser)}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
