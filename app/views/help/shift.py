"""Help on what is said of many traces: sharing, steps over time, two sets, limits from data; no widgets."""

from __future__ import annotations

from app.views.help.topic import Topic

_GROUP = "Many traces"
_RECALLED = "(recalled, not confirmed)"

SHIFT_TOPICS = (
    Topic(
        "reference",
        _GROUP,
        "Reference set",
        "Select good traces of a joint and pin them (Ctrl+R); at least 20 of them. From then on they "
        "say what is "
        "usual in this joint, in place of the shift's own traces: verdicts are worked out again, and "
        "undo takes "
        "it back.\n\n"
        "Number and date of the reference stand above the curves, with the number of shown traces that fall "
        "outside; a click selects them (Ctrl+Shift+R), and the column reference can be filtered and "
        "coloured by."
        "\n\n"
        "The workspace keeps the reference. Decide, Keep the references with the joints writes it beside the "
        "joints file, from where it comes back with it, in this window and on the command line, also "
        "where its "
        "traces are not open.",
        "outside: |z| > limit for a scored figure, or the curve leaves the band of 5 to 95 %, "
        "widened to that "
        "limit, along more than 5 % of its rise\n"
        "z = (x − median) / robust standard deviation of the reference",
        "",
        "Robust standard deviation: NIST e-Handbook of Statistical Methods, 1.3.5.17. Share of the "
        "rise: common "
        "practice, no source.",
    ),
    Topic(
        "sharing",
        _GROUP,
        "What do they share?",
        "For the selected traces, all flagged, those of one cause, outside the reference or from a moment on "
        "(Ctrl+H): which tool, spindle, lot, part, position, program or hour is more frequent among "
        "them than "
        "among the other traces of the same joint. Nothing about persons is looked at.\n\n"
        "Bold is what chance does not explain: the probability of so many or more by drawing at "
        "random, corrected "
        "for all values that were looked at, lies below 0.01. Sharing is no cause: it says where to look.\n\n"
        "A click shows those traces only, as a condition that can be removed.",
        "P = Σ C(a+b, k) · C(c+d, a+c−k) / C(n, a+c) for k ≥ a;   corrected by Holm's steps",
        "",
        f"Fisher's exact test, one-sided; S. Holm, Scand. J. Statist. 6 (1979) 65 {_RECALLED}. Limit: common "
        "practice, no source.",
    ),
    Topic(
        "steps over time",
        _GROUP,
        "Steps over time",
        "In order of time: the level of a figure between its steps, looked for in one joint. A step is where "
        "splitting the order in two lowers the squared deviations of the ranks by more than a "
        "penalty; ranks make "
        "it deaf to single odd values. Steps of less than one standard deviation are not told.\n\n"
        "Where there is no step, a steady drift is stated if chance explains it in less than one case of a "
        "hundred.\n\n"
        "Compare before and after (Ctrl+Shift+B) compares what was tightened before a trace with "
        "what followed.",
        "drift: median of the slopes of all pairs",
        "",
        f"H. B. Mann, Econometrica 13 (1945) 245; P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379 {_RECALLED}. "
        "Penalty: common practice, no source.",
    ),
    Topic(
        "two sets",
        _GROUP,
        "Two sets compared",
        "Take one selection as set A (Ctrl+Alt+1), another as set B (Ctrl+Alt+2) and compare them "
        "(Ctrl+Shift+K); "
        "or the selection with the rest of its joint (Ctrl+Alt+K). Sets A and B are undone like any "
        "decision, and the workspace keeps them; traces of a set that are not open are counted.\n\n"
        "The curves lie on each other, each set with its median and its band of 5 to 95 %, as far as "
        "nine of ten "
        "of its curves reach. For each figure: number, median and robust spread of both sets, and "
        "the difference "
        "with its interval. Where the interval leaves out zero, a difference is shown; that is no "
        "cause. Each "
        "interval holds by itself.\n\n"
        "Report … puts it on paper.",
        "difference = median of all b − a;   interval by the ranks of the Mann-Whitney test",
        "",
        f"J. L. Hodges, E. L. Lehmann, Ann. Math. Stat. 34 (1963) 598 {_RECALLED}.",
    ),
    Topic(
        "limits from data",
        _GROUP,
        "Limits from good traces",
        "For a joint, two windows for each limit (Ctrl+Shift+G): one holds if the values are "
        "normally distributed, "
        "the other, between values of equal rank from both ends, whatever their distribution, but needs "
        "many values. "
        "Both are to hold the chosen share of good joints with the chosen confidence.\n\n"
        "Beside each: the share of further good traces that is expected outside, how many of these "
        "good ones and "
        "of the traces flagged now lie outside. Try in the histogram shows it there. Nothing changes before "
        "Apply; undo takes all back.\n\n"
        "Limits from data say what is usual, not what the joint needs: the product's specification "
        "goes before "
        "them.",
        "normal: mean ± k · s, k from share, confidence and n\n"
        "expected outside: 2 · P(t > k / √(1 + 1/n));   ranks r from both ends: 2 · r / (n + 1)\n"
        "confidence of those: P(share > p), share after a beta distribution (n + 1 − 2r, 2r)",
        "",
        "NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3 and 7.2.6.4.",
    ),
)
