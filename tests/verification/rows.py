"""All checks against the outside, by kind of source."""

import test_closed_forms
import test_handbook_examples
import test_reference_libraries

import test_common_practice
import test_standards
import test_whole_job

KINDS = {
    "Published standards": test_standards.CHECKS,
    "Handbook and textbook examples": test_handbook_examples.CHECKS,
    "Reference libraries": test_reference_libraries.CHECKS,
    "Closed forms": test_closed_forms.CHECKS,
    "Common practice": test_common_practice.CHECKS,
    "The whole job": test_whole_job.CHECKS,
}
CHECKS = [check for checks in KINDS.values() for check in checks]

OWN_JUDGEMENT = {}
NOT_USED = []
