"""Plan a month of sheet-metal cutting from a workbook.

The walk of the data, one direction and no way back::

    workbook rows -> checked model -> groups -> layouts -> independent check -> outputs

Nothing heavy is imported here; see the folders for what lives where.
"""

__version__ = "0.1.0"
