"""All checks against the outside, by kind of source, and what has none."""

import test_closed_forms
import test_closed_forms_air
import test_closed_forms_flow
import test_closed_forms_heat
import test_common_practice
import test_common_practice_race
import test_handbook_bubbles
import test_handbook_examples
import test_handbook_gas
import test_handbook_line
import test_reference_libraries
import test_reference_libraries_bubbles
import test_reference_libraries_flow
import test_reference_libraries_gas
import test_reference_libraries_heat
import test_standards
import test_standards_gas
import test_whole_job
import test_whole_job_air
import test_whole_job_cap
import test_whole_job_heat
import test_whole_job_lump

FILES = {
    "Published standards": (test_standards, test_standards_gas),
    "Handbook and textbook examples": (
        test_handbook_examples,
        test_handbook_line,
        test_handbook_gas,
        test_handbook_bubbles,
    ),
    "Reference libraries": (
        test_reference_libraries,
        test_reference_libraries_gas,
        test_reference_libraries_flow,
        test_reference_libraries_heat,
        test_reference_libraries_bubbles,
    ),
    "Closed forms": (test_closed_forms, test_closed_forms_air, test_closed_forms_flow, test_closed_forms_heat),
    "The whole job": (
        test_whole_job,
        test_whole_job_heat,
        test_whole_job_lump,
        test_whole_job_cap,
        test_whole_job_air,
    ),
    "Common practice": (test_common_practice, test_common_practice_race),
}
KINDS = {kind: [check for module in modules for check in module.CHECKS] for kind, modules in FILES.items()}
CHECKS = [check for checks in KINDS.values() for check in checks]
