"""Source: Unicode CLDR, ``common/main/es_US.xml``, ``numbers/symbols`` (blendshop/figures)."""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3
DATE_FORMAT = r"j \d\e F \d\e Y"
SHORT_DATE_FORMAT = r"j \d\e M \d\e Y"
DATETIME_FORMAT = r"j \d\e F \d\e Y, H:i"
SHORT_DATETIME_FORMAT = r"j \d\e M \d\e Y, H:i"
