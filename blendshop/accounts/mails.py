"""On whose page the mails to a person are shown."""

from typing import Final

from blendshop.accounts.models import User

#: The kind of record the mails to a customer's people are about; its key is the company's.
OF_CUSTOMER: Final = "customer"


def record_of(person: User) -> tuple[str, str]:
    """Kind and key of the record: the customer a person belongs to, else the person."""
    if person.company_id:
        return OF_CUSTOMER, str(person.company_id)
    return "person", str(person.pk)
