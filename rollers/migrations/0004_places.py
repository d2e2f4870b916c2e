"""Facts and signed documents are not replaced by rows with their keys, and signed tables are not emptied at once."""

from django.db import migrations

from plant.audit.triggers import guard, install, unreplaceable_sql

IN_FORCE = "{row}.state = 'in force'"
KEYS = {
    "rollers_calculation": (),
    "rollers_calibration": (),
    "rollers_measurement": (),
    "rollers_tapefact": (),
    "rollers_runcheck": (),
    "rollers_release": ("run_id", "signature_id"),
    "rollers_importbatch": (),
    "rollers_recipeversion": ("recipe_id,number",),
    "rollers_band": (),
    "rollers_recipeproduct": ("version_id,product_id", "position_id,product_id:{row}.in_force"),
    "rollers_productsheet": (
        "product_id,path_id,number",
        f"product_id,path_id:{IN_FORCE}",
        "product_id,path_id:{row}.state = 'draft'",
    ),
    "rollers_sheetline": ("sheet_id,position_id",),
}
SIGNED = (
    "rollers_recipeversion",
    "rollers_band",
    "rollers_recipeproduct",
    "rollers_productsheet",
    "rollers_sheetline",
)


def places(vendor):
    parts = [unreplaceable_sql(vendor, table, *keys) for table, keys in KEYS.items()]
    parts.append(unreplaceable_sql(vendor, "rollers_limitset", pk="number"))
    if vendor == "postgresql":
        parts += [
            guard(
                vendor,
                name=f"{table}_no_truncate",
                before="TRUNCATE",
                table=table,
                says=f"{table} holds signed rows and is not emptied",
            )
            for table in SIGNED
        ]
    return [sql for part in parts for sql in part]


class Migration(migrations.Migration):
    dependencies = [("rollers", "0003_signed_sheets"), ("audit", "0004_chain_and_places")]
    operations = [install(places)]
