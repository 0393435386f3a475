"""What stands under every answer."""

from service.wording.languages import N_

CAUTIONS = (
    N_("Decision support for licensed burn teams. This is a draft proposal: a clinician reviews "
       "every line before anything is done, and nothing has been ordered."),
    N_("Local protocol and clinical judgement come first."),
    N_("Not a medical device as shipped."),
    N_("Numbers are expected values with their ranges, not promises. Minutes are estimates."),
    N_("No forecast of survival is made, and no advice whether to treat."),
)
