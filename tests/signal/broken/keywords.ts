[Version] 2.0
# MHz S RI R 50
[Number of Port] 2
[Number of Ports] two
[Matrix Format] Diagonal
[Number of Frequencies] 2
[Number of Frequencies] 3
[Reference] 50 -50
[Two-Port Data Order] 21_12
[Network Data]
1 0.1 0 0.8 -0.5 0.8 -0.5 0.1 0
[Matrix Format] Full
[End] now
1 0.1 0
