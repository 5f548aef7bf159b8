"""German. Keys are the English words as the program has them."""

from dosectl.texts.languages.de_alarms import ALARMS
from dosectl.texts.languages.de_alarms_more import MORE
from dosectl.texts.languages.de_guards import GUARDS
from dosectl.texts.languages.de_lines import LINES, MONTHS, REMINDERS

GERMAN = {
    **ALARMS,
    **MORE,
    **GUARDS,
    **LINES,
    **MONTHS,
    **REMINDERS,
    "(may be a repeat)": "(vielleicht eine Wiederholung)",
    "CRITICAL": "KRITISCH",
    "HIGH": "HOCH",
    "MEDIUM": "MITTEL",
    "LOW": "NIEDRIG",
    "NOTICE": "HINWEIS",
    "Pool {pool}": "Pool {pool}",
    "since {since}": "seit {since}",
    "Over: {title}. It lasted from {since} to {until}.": "Vorbei: {title}. Es dauerte von {since} bis {until}.",
    "Over: {titles}.": "Vorbei: {titles}.",
    "{count} calls at once: {titles}.": "{count} Meldungen zugleich: {titles}.",
    "and {count} that follow from it": "und {count}, die daraus folgen",
    "Still": "Weiterhin",
    "If nobody acts: {consequence}; {within}.": "Sonst: {consequence}; {within}.",
    "Answer with code {code}: it says only that you know.": "Antwort mit Code {code}: sagt nur, dass Sie es wissen.",
    "Test of the calls. Nothing is wrong. Please answer, so that we know that this way works.": (
        "Probe der Meldungen. Es ist nichts passiert. Bitte antworten, damit feststeht, dass dieser Weg funktioniert."
    ),
    "You are asked to help with the pool of {pool}.": "Sie werden um Hilfe beim Pool {pool} gebeten.",
    "That its cause is no longer seen does not make it safe: who smells chlorine stays out and calls for help. "
    "Nobody swims until the water was tested by hand.": (
        "Dass die Ursache nicht mehr zu sehen ist, macht es nicht sicher: Wer Chlor riecht, bleibt draußen und ruft Hilfe. "
        "Niemand badet, bis das Wasser von Hand getestet ist."
    ),
    "Nobody swims until the water was tested by hand.": "Niemand badet, bis das Wasser von Hand getestet ist.",
    "Chemical or gas may be at the pool.": "Am Pool kann Chemie oder Gas ausgetreten sein.",
    "Keep everyone away from the pool and the plant room. Call emergency services if you smell chlorine or anyone coughs. "
    "Then reach the owner.": (
        "Alle von Pool und Technikraum fernhalten. Bei Chlorgeruch oder Husten den Notruf wählen. Dann den Besitzer erreichen."
    ),
    "Do not enter, do not touch containers or pumps, do not switch anything on.": (
        "Nicht hineingehen, keine Behälter oder Pumpen anfassen, nichts einschalten."
    ),
    "The pool water may be unfit to swim in.": "Das Wasser ist vielleicht nicht zum Baden geeignet.",
    "Keep everyone out of the water and tell the owner.": "Niemanden ins Wasser lassen und den Besitzer verständigen.",
    "Do not add anything to the water. If you smell chlorine, stay out and call for help.": (
        "Nichts ins Wasser geben. Bei Chlorgeruch draußen bleiben und Hilfe rufen."
    ),
    "The pool's controller needs its owner.": "Die Steuerung des Pools braucht ihren Besitzer.",
    "Please try to reach the owner today.": "Bitte versuchen Sie heute, den Besitzer zu erreichen.",
}
