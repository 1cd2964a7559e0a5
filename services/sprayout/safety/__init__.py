"""Ventilation, exposure, fire and respirators, and the cautions shown wherever somebody sprays.

Every result here is an estimate from assumed emission, mixing and airflow.  The order of
authority is: the product's safety data sheet, the local code, a licensed professional, and this
tool last.  The room states what rules ask and what is missing; it gives no approval.
"""
