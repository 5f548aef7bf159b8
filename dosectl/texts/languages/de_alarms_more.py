"""German of later alarms, of a closed cover for instance: `de_alarms` is as long as a file may be."""

MORE = {
    "too much or too little chlorine": "zu viel oder zu wenig Chlor",
    "Nobody swims. Test by another method (colour and photometer are one), enter it; above 10 mg/L dilute. Withdraw a slip. Pump "
    "off: check the probe.": (
        "Niemand badet. Mit anderer Methode testen (Farbtest, Photometer sind eine), eintragen; über 10 mg/L verdünnen. "
        "Tippfehler zurücknehmen. Pumpe aus, Sonde prüfen."
    ),
    "A fitted signal is silent": "Ein eingebautes Signal schweigt",
    "what it watches over goes unseen": "was es überwacht, sieht niemand",
    "Its last value counts for some time; then a feeder may wait.": "Sein letzter Wert gilt noch; dann wartet eine Dosierung.",
    "Look at its power and network; a sensor at a cell or container only by someone trained.": (
        "Strom und Netzwerk ansehen; Fühler an Zelle oder Behälter nur durch Eingewiesene."
    ),
    "The sunlight signal is dark by day": "Das Signal für Sonnenlicht ist am Tag dunkel",
    "clouds and clear days are fed for alike": "für Wolken und Sonne wird gleich dosiert",
    "It is not believed; the sun is reckoned as it usually was here.": (
        "Ihm wird nicht geglaubt; gerechnet wird mit der Sonne, wie sie hier meist war."
    ),
    "Look whether the sensor is covered, its cable and its power.": "Nachsehen, ob der Fühler verdeckt ist; Kabel und Strom.",
    "The limit under a cover holds the chlorine down": "Die Grenze unter der Abdeckung hält das Chlor niedrig",
    "the pool runs low under its cover": "das Chlor geht unter der Abdeckung zur Neige",
    "Chlorine is fed up to that limit.": "Chlor wird bis zu dieser Grenze dosiert.",
    "Nobody swims. Test free chlorine by hand and enter it; uncover the pool.": (
        "Niemand badet. Freies Chlor von Hand testen und eingeben; die Abdeckung öffnen."
    ),
    "The record is lost or an old copy": "Die Aufzeichnung ist verloren oder alt",
    "limits do not know what was fed": "Grenzen kennen das Dosierte nicht",
    "Chlorine is bounded for a day. Acid waits for tests of pH and alkalinity.": (
        "Einen Tag lang ist Chlor begrenzt. Säure wartet auf Tests von pH und Alkalität."
    ),
    "Test free chlorine, pH and alkalinity by hand and enter them. Look at the disk.": (
        "Freies Chlor, pH und Alkalität von Hand testen und eingeben. Den Datenträger ansehen."
    ),
    "a record that is lost or an old copy": "eine verlorene oder alte Aufzeichnung",
}
