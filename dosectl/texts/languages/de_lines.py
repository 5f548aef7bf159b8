"""German of the morning's line, the account and the week, of months and of reminders. Keys are the English words."""

LINES = {
    "All is well.": "Alles in Ordnung.",
    "Not all is well: {what}.": "Nicht alles in Ordnung: {what}.",
    "feeding is stopped by hand": "Dosierung von Hand gestoppt",
    "chlorine runs without a usable reading": "Chlor läuft ohne brauchbaren Messwert",
    "the chlorine is not well known: have the water tested by hand": "Chlor ist ungewiss: Wasser von Hand testen lassen",
    "chlorine is low": "Chlor ist niedrig",
    "chlorine is high: nobody swims": "Chlor ist hoch: niemand badet",
    "pH is out of its range": "pH außerhalb seines Bereichs",
    "a container lasts less than three days": "ein Behälter reicht keine drei Tage mehr",
    "Chlorine about {free_mg_l} mg/L ({low_mg_l} to {high_mg_l}), pH {ph}.": (
        "Chlor etwa {free_mg_l} mg/L ({low_mg_l} bis {high_mg_l}), pH {ph}."
    ),
    "Redox {orp_mv} mV.": "Redox {orp_mv} mV.",
    "Fed in a day: {fed}.": "Dosiert an einem Tag: {fed}.",
    "{feeder} lasts {days} days.": "{feeder} reicht {days} Tage.",
    "While you were away ({days} days):": "Während Ihrer Abwesenheit ({days} Tage):",
    "The pool's last {days} days:": "Die letzten {days} Tage des Pools:",
    "chlorine in its band for {in_band_h} of {known_h} h on record, as estimated (of {of_h} h)": (
        "Chlor {in_band_h} von {known_h} aufgezeichneten Stunden im Band, geschätzt (von {of_h} h)"
    ),
    "nothing of the water is on record for this time": "vom Wasser ist für diese Zeit nichts aufgezeichnet",
    "chlorine from {low} mg/L ({low_at}) to {high} mg/L ({high_at}), as estimated": (
        "Chlor von {low} mg/L ({low_at}) bis {high} mg/L ({high_at}), geschätzt"
    ),
    "pH from {low} ({low_at}) to {high} ({high_at})": "pH von {low} ({low_at}) bis {high} ({high_at})",
    "{feeder} fed {mg_l} mg/L, {litres} L out of its container": "{feeder} hat {mg_l} mg/L dosiert, {litres} L aus dem Behälter",
    "{feeder} fed {mg_l} mg/L": "{feeder} hat {mg_l} mg/L dosiert",
    "about {litres} L are left for {feeder}": "etwa {litres} L sind noch für {feeder} da",
    "water tests, the newest of each: {tested}": "Wassertests, jeweils der neueste: {tested}",
    "no water tests": "keine Wassertests",
    "alarms, how often and how long at most: {came}": "Alarme, wie oft und wie lange höchstens: {came}",
    "no alarms": "keine Alarme",
    "interlocks that held a feed, as they should: {trips}": "Verriegelungen, die wie gewollt eine Dosierung hielten: {trips}",
    "free chlorine": "freies Chlor",
    "combined chlorine": "gebundenes Chlor",
    "pH": "pH",
    "alkalinity": "Alkalität",
    "stabiliser": "Stabilisator",
    "salt": "Salz",
    "hardness": "Härte",
    "water temperature": "Wassertemperatur",
    "chlorine": "Chlor",
    "acid": "Säure",
}

REMINDERS = {
    "Test by hand: {quantity}": "Von Hand testen: {quantity}",
    "Test by hand now, as it is not well known: {quantity}": "Jetzt von Hand testen, weil ungewiss: {quantity}",
    "Calibrate or check a probe, taken out with the pump off: {probe}": (
        "Sonde kalibrieren oder prüfen, bei ausgeschalteter Pumpe herausgenommen: {probe}"
    ),
    "Have a container refilled by someone trained, with goggles and gloves: {feeder}": (
        "Behälter nachfüllen lassen, nur durch Eingewiesene, mit Schutzbrille und Handschuhen: {feeder}"
    ),
    "Have a feeder proven by its card, by someone trained: {feeder}": (
        "Dosierung nach ihrer Karte prüfen lassen, durch Eingewiesene: {feeder}"
    ),
    "Have old hypochlorite used up or renewed by someone trained, with goggles and gloves; it has lost strength: {feeder}": (
        "Altes Hypochlorit aufbrauchen oder erneuern lassen, nur durch Eingewiesene mit Schutzbrille und Handschuhen; "
        "es ist schwächer geworden: {feeder}"
    ),
    "Have a worn part replaced, a tube or cell by someone trained, with goggles and gloves: {part}": (
        "Verschlissenes Teil ersetzen lassen, Schlauch oder Zelle nur durch Eingewiesene mit Schutzbrille und Handschuhen: {part}"
    ),
    "Open the season: have plant and feeders proven by someone trained; test the water": (
        "Saison eröffnen: Anlage und Dosierungen durch Eingewiesene prüfen lassen; Wasser testen"
    ),
    "Close the season before the frost": "Saison vor dem Frost schließen",
    "Brush walls and steps; cover the pool at night; shower before swimming": (
        "Wände und Stufen bürsten; nachts abdecken; vor dem Baden duschen"
    ),
}

MONTHS = {
    "{day} {month}": "{day}. {month}",
    "Jan": "Jan.",
    "Feb": "Feb.",
    "Mar": "März",
    "Apr": "Apr.",
    "May": "Mai",
    "Jun": "Juni",
    "Jul": "Juli",
    "Aug": "Aug.",
    "Sep": "Sept.",
    "Oct": "Okt.",
    "Nov": "Nov.",
    "Dec": "Dez.",
}
