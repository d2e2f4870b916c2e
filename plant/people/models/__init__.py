from plant.people.models.access_review import AccessReview
from plant.people.models.badge import Badge
from plant.people.models.person import Person
from plant.people.models.role import Role, RoleGrant

__all__ = ["AccessReview", "Badge", "Person", "Role", "RoleGrant"]
