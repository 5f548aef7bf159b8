"""What no text may ask of a layman: to go to acid or gas, or to work at a live pump. Typed from the design, not from the texts.

A text is judged by its sentences. Who handles chemical, or the tubes, drums, motors and cells that hold it, is "someone trained";
what is opened or cleaned in the water's path is opened with the pump off; where gas may stand it says what a nose decides.
"""

import re

ENGLISH, GERMAN = "en", "de"

# Acts, and what they are done to. A part of the plant that is only named ("the container is empty") asks nothing of anybody.
ACT = {
    ENGLISH: r"(check|look (?:at|for|in)|look,|clean|repair|mend|replace|swap|refill(?:ed)?|prime[d]?|pour|open|see "
    r"to|test(?=.*\bdrum)|"
    r"have it|looked at|cleaning|prove|proof test|measure|find out|only by|calibrate)",
    GERMAN: r"(prüf\w*|ansehen|nachsehen|sehen "
    r"nach|reinig\w*|repar\w*|ersetz\w*|tausch\w*|nachfüll\w*|entlüft\w*|füll\w*|öffn\w*|schütt\w*|"
    r"erneuer\w*|aufbrauch\w*|mess\w*|nur durch|lassen)",
}
CHEMICAL = {
    ENGLISH: r"(drums?|tubes?|motor|containers?(?! to )|siphon|gas|the acid|acid's|the cell(?! reads)|level "
    r"(?:switch|sensor)|refilled|"
    r"refill (?:it|the)|prime[d]?|proof tests? (?:of|done|rep)|its proof tests|prove the|the feeder's output|hypochlorite)",
    GERMAN: r"(schlauch|schläuche|motor\b|behälter\w*|säure\w*|zelle\b|nachfüll\w*|entlüft\w*|hypochlorit|gas\b"
    r"|füllstand\w*|leistung der)",
}
TRAINED = {ENGLISH: re.compile(r"someone trained|work for someone", re.I), GERMAN: re.compile(r"Eingewiesene", re.I)}
# What is opened or taken out of water under pressure. Looking at a probe's plug is not; its tip or a buffer is.
WATER_PATH = {
    ENGLISH: re.compile(
        r"\b(check|open|look at|clean|repair|replace|swap|mend)\b[^.]*\b(basket|valves?|its filter|the filter|filter "
        r"lid|impeller)\b"
        r"|\b(basket|valves?|filter)\b[^.]*\blooked at\b"
        r"|\b(clean|replace|swap|mend|try)\b[^.]*\b(tip|probe|what is named|the other)\b|\bin (its|a) buffer\b|(?<!to "
        r")\bcalibrate\b",
        re.I,
    ),
    GERMAN: re.compile(
        r"\b(korb|ventile?|filter)\b[^.]*\b(öffnen|reinigen|ansehen|prüfen|ersetzen)\b"
        r"|\b(spitze|\w*sonde|die andere)\b[^.]*\b(reinigen|ersetzen|versuchen|herausnehmen|kalibrieren)\b|\bpuffer",
        re.I,
    ),
}
PUMP_OFF = {
    ENGLISH: re.compile(r"pump (switched )?off", re.I),
    GERMAN: re.compile(r"(pumpe[^.]*\baus\b|ausgeschalteter pumpe|an der sicherung)", re.I),
}
GAS = {
    ENGLISH: re.compile(
        r"\b(gas|siphons?|without water flow|ran together|ran at once|still runs|though it was asked off)\b", re.I
    ),
    GERMAN: re.compile(r"\b(\w*gas|ohne wasserfluss|zugleich|obwohl sie aus)\b|\bläuft in den pool", re.I),
}
STAYS_OUT = {
    ENGLISH: re.compile(r"smells? chlorine[^.;]*\b(stays? out|help)|emergency services if you smell chlorine", re.I),
    GERMAN: re.compile(r"(Chlor riecht|Chlorgeruch)[^.;]*\b(draußen|Hilfe|Notruf)", re.I),
}
ADDING = {
    ENGLISH: re.compile(r"\b(add|pour|give|put in) (some )?(acid|hypochlorite|chlorine)\b|\bbring the ph down\b", re.I),
    GERMAN: re.compile(r"\b(säure|chlor|hypochlorit)\b[^.]*\b(zugeben|einfüllen|hineingeben|schütten)\b", re.I),
}
POWER = {
    ENGLISH: re.compile(
        r"\b(cut|have) (its|the) (power|plug)\b(?![^.;]*\b(from outside|looked at)\b)|\bbreaker\b[^.;]*\btimer\b", re.I
    ),
    GERMAN: re.compile(r"\b(strom|stecker|pumpe)\b[^.;]*(?<!von außen )\b(abschalten|ziehen)\b|schaltuhr", re.I),
}


def sentences(text: str) -> list[str]:
    """At full stops, semicolons and colons, but not within figures."""
    return [part for part in re.split(r"[.;](?=\s|$)", text) if part.strip()]


def harms(text: str, language: str = ENGLISH) -> list[str]:
    """What a text asks that it may not; nothing where it is safe."""
    found: list[str] = []
    for sentence in sentences(text):
        acts = re.search(rf"\b{ACT[language]}", sentence, re.I)
        if acts and re.search(rf"\b{CHEMICAL[language]}\b", sentence, re.I) and not TRAINED[language].search(sentence):
            found.append(f"chemical by a layman: {sentence.strip()}")
        if ADDING[language].search(sentence):
            found.append(f"adds chemical: {sentence.strip()}")
        if POWER[language].search(sentence):
            found.append(f"power from within: {sentence.strip()}")
    if WATER_PATH[language].search(text) and not PUMP_OFF[language].search(text):
        found.append(f"live pump: {text}")
    if GAS[language].search(text) and not STAYS_OUT[language].search(text):
        found.append(f"gas without a word: {text}")
    return found
